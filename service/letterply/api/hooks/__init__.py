"""Telling makers' own addresses what happened: whom it may go to, signed, sent and sent again."""
