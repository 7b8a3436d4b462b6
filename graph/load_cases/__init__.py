"""Every case in load state: what is drawn, for how long, and what trips or drops."""
