"""Finished files → a verdict.  Shares nothing with the rooms that made them.  Entry: `judge.verify_folder`."""
