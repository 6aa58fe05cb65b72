"""The API of the animals: what is only read, and the records that are entered too."""
