"""An invented refuge with a past, to try the program on. People, places and animals here are made up."""
