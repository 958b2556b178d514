"""What leaves the house: sheets, committed blocks, rationale pages."""
