"""Pictures of a run: the film, its captions and its poster. Draws what account holds and knows no engine."""

import logging

# Where its settings cannot be kept, matplotlib makes do with a folder that lasts as long as the program, and says so: nothing to act upon.
_NOISE = ("MPLCONFIGDIR", "mkdir -p failed")
logging.getLogger("matplotlib").addFilter(lambda record: not any(words in record.getMessage() for words in _NOISE))
