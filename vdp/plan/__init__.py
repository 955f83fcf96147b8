"""Layout, faces, artwork and plates become a Plan, once a job."""
