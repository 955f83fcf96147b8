"""One thing is changed in a finished run folder, its manifest is refreshed, and the change must be found."""
