"""The desk: all that the faces ask and tell, joined."""

import socket
from urllib.parse import urlsplit

from chamberwatch.notify.console import Console
from chamberwatch.photo.darkroom import Darkroom
from chamberwatch.service.amending import Amending
from chamberwatch.service.calibrating import Calibrating
from chamberwatch.service.chart_marks import Marking
from chamberwatch.service.charting import Charting
from chamberwatch.service.chronicle import Chronicle, GrowingTold
from chamberwatch.service.climate import Climates
from chamberwatch.service.growing.photos import Photos
from chamberwatch.service.guided import Guided
from chamberwatch.service.history import History
from chamberwatch.service.logbook import Logbook
from chamberwatch.service.lookback import Lookback
from chamberwatch.service.out_of_service import OutOfService
from chamberwatch.service.reviewing import Reviewing
from chamberwatch.service.strips import Strips
from chamberwatch.service.trying import Trying
from chamberwatch.settings import Settings
from chamberwatch.storage.photo_files import photo_folder
from chamberwatch.web.desk import Desk
from chamberwatch.web.whence import Reach, own_names, own_number
from chamberwatch.wiring.claiming import claiming_with
from chamberwatch.wiring.common import Common, Occasion
from chamberwatch.wiring.health import wellness
from chamberwatch.wiring.speaking import manners


def desk_with(settings: Settings, common: Common, history: History, occasion: Occasion) -> Desk:
    """Join the parts that the faces stand on."""
    books, clock, house, board = common.books, common.clock, common.house, common.board
    zone, wake = common.zone, common.wake
    return Desk(
        history=history,
        logbook=Logbook(books, clock, house, board, wake, common.knowing),
        clock=clock,
        books=books,
        zone=zone,
        address=settings.web.address,
        calibrating=Calibrating(books, clock, house, board, common.corrector),
        lookback=Lookback(books, clock, house, board, zone),
        growing=common.growing,
        serving=OutOfService(books, clock, board),
        reviewing=Reviewing(books, clock, house, zone, Console.name),
        addresses=Trying(
            books, clock, common.messengers, zone, wake, common.picture, manners(settings)
        ),
        names=own_names(socket.gethostname()),
        foreseeing=common.foreseeing,
        strips=Strips(books, clock, house),
        charting=Charting(
            books,
            house,
            common.bands,
            Marking(common.bands, common.growing.table, house.titles(), zone),
        ),
        climate=Climates(books, clock, house, common.bands, zone),
        photos=Photos(
            books,
            common.growing.record,
            photo_folder(settings.database.folder),
            Darkroom(),
            clock,
        ),
        chronicle=Chronicle(
            books,
            house,
            GrowingTold(common.growing.record, common.growing.table),
            Console.name,
        ),
        guided=Guided(books, clock, house),
        amending=Amending(books, clock, house, board, common.knowing, common.responding),
        shown_in=settings.site.shown_in(),
        editing=occasion.editing,
        claiming=claiming_with(settings, occasion.editing, occasion.ears.of(settings)),
        reach=_reach(settings, occasion),
        wellness=wellness(settings, common.books, clock, history),
    )


def _reach(settings: Settings, occasion: Occasion) -> Reach:
    port = urlsplit(occasion.page).port or settings.web.port
    return Reach(settings.web.near, port, socket.gethostname(), own_number)
