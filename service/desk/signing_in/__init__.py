"""Coming in and going out: passwords, second factor, sessions, one-use addresses, and the shop's tablets."""
