"""How soon a mix is pressed and its blocks are covered; common practice, no published source."""

from datetime import timedelta

# A damp mix with binder sets and dries while it waits.
PRESS_WITHIN = timedelta(minutes=45)
# Covering keeps the first water in; after two days there is little left to keep.
COVER_WITHIN, COVER_AT_ALL = timedelta(hours=2), timedelta(days=2)
