"""The harness and the physics: knows nothing of KiCad, files or spreadsheets."""
