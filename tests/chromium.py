"""The browser of the tests: the one the system brings, never a downloaded one.

Debian has it in a second build that shows no window. It is the same engine and costs a third of the processor time.
"""

import shutil

CHROMIUM = shutil.which("chromium-headless-shell")
# Tests run as root inside containers and reach nothing but their own server.
ARGUMENTS = ("--no-sandbox", "--disable-gpu", "--disable-gpu-rasterization", "--disable-quic")
