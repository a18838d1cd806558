"""Everything about growing that the faces ask for and tell, in one hand."""

from dataclasses import dataclass

from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.service.growing.cautions import Cautions
from chamberwatch.service.growing.duties import Duties
from chamberwatch.service.growing.looking import Looking
from chamberwatch.service.growing.record import GrowingRecord
from chamberwatch.service.growing.rotating import Rotating
from chamberwatch.service.growing.standing import Standing


@dataclass(frozen=True, slots=True)
class Growing:
    """The growing record and what follows from it.

    Attributes:
        table: the species.
        record: takes in what is told of batches, and says what they are.
        standing: which chamber follows which batches.
        duties: what is due, and what can be done today.
        rotating: the plan of starts.
        looking: what a sign that was seen may come from.
        cautions: what is to be minded, until somebody has seen it.
    """

    table: SpeciesTable
    record: GrowingRecord
    standing: Standing
    duties: Duties
    rotating: Rotating
    looking: Looking
    cautions: Cautions
