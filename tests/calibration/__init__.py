"""Whether the bands hold: invented people live through untidy weeks, and what the log taught is held to the truth.

``python -m tests.calibration --lifters 300 --rows all`` prints, for each way in which people may differ from what the
fit takes for granted, how often the truth lies inside the bands, how wide these are, and what the forecast of the next
week is worth beside the rules of thumb.

The people, their sessions and their logs are written here once more, from the published numbers in ``data/``: no
prior and no likelihood of `workbench.fit` is used to make them, so that what is counted twice there shows here.
"""
