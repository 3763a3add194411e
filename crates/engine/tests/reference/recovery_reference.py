"""Prints, at full digits, the computed values that recovery_reference.rs is held against.

Needs statsmodels 0.15.0 (with numpy). Run: python3 recovery_reference.py > recovery_values.txt
"""
import numpy as np
import statsmodels

import recovery_model

record = recovery_model.Record(*recovery_model.read("recovery_record.txt"))
result = record.filter().filter()
print("statsmodels", statsmodels.__version__, "numpy", np.__version__)
print("log_likelihood", repr(record.log_likelihood(result)))
print("# every lead set but each lift's first: innovation, variance")
for step in np.flatnonzero(record.counted):
    print(repr(float(result.forecasts_error[0, step])), repr(float(result.forecasts_error_cov[0, 0, step])))
