"""The coach's questions, each answered by a function that returns tidy tables with their uncertainty."""
