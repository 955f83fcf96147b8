"""What PDF/X-4 (ISO 15930-7) and PDF/VT-1 (ISO 16612-2) ask of a finished file, read by pypdf, not by its writer."""
