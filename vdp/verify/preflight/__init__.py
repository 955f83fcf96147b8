"""Artwork judged before it ruins a run: what is painted (`painting`), what is wrong with it (`rules`, `document`)."""
