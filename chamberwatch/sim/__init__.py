"""Publishers of messages: the simulated tent and the replay of a logged file."""
