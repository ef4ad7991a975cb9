"""How long a way in lasts, and how often somebody may try."""

from datetime import timedelta

# A session ends after so long without use, and at the latest after so long altogether.
IDLE_LASTS = timedelta(hours=24)
SESSION_LASTS = timedelta(days=14)
# A tablet lies on the bench for everybody.
TABLET_IDLE_LASTS = timedelta(minutes=15)
TABLET_SESSION_LASTS = timedelta(hours=12)
# The page goes back to the names before the session is over, so that nobody types into one that is.
TABLET_LEFT_AFTER = timedelta(minutes=10)
# Use is noted no more often than this, so that reading pages does not write.
NOTED_EVERY = timedelta(minutes=10)
TABLET_NOTED_EVERY = timedelta(minutes=1)

TABLET_LASTS = timedelta(days=366)
ENROLMENT_LASTS = timedelta(days=1)

# So long after his password was typed somebody is taken for himself, also where that counts most.
CONFIRMED_LASTS = timedelta(minutes=10)

RECOVERY_CODES = 8

# Within the time that attempts are remembered, for one e-mail address or name and for one address on the network.
# A browser at which a person signed in before has tries of its own at that person's door, whoever else guesses there.
MOST_TRIES = {"email": 10, "from": 100, "known": 10}
# Within the same time, how much of what takes long one person or one program may ask for: what he wants is rarely more.
MOST_COSTLY = {"work": 600, "paper": 60}
# After so many wrong PINs in a row, whatever the time between them, the PIN opens nothing until it is chosen anew.
MOST_PIN_TRIES = 30
