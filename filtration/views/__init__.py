"""Pages of the filters, and the form by which one is built."""
