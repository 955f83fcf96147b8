"""Plan + Record → marks; pure: no files, no clock, no randomness."""
