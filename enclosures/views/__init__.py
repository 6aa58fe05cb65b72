"""Pages of the waters and enclosures, and the page on which a site is set up."""
