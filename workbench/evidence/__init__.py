"""Published studies against the models: fits, left-out scores, predictions for groups nobody fitted."""
