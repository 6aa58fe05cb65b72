"""What harmed a filter: pump stops, chlorine, medicine, drying, frost, heat; what is left, and what to do."""
