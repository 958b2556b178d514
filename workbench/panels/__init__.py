"""Controls bound to the questions, for the notebooks. No maths here."""
