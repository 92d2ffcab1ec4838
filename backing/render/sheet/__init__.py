"""Paper: sheets to put on the stand, as PDF, SVG or PNG."""
