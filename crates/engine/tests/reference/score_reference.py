"""Reference values for crates/engine/tests/virtual_lifters_score.rs.

scikit-learn 1.x and numpy from PyPI; run with `python score_reference.py`. The scores and outcomes are
invented and repeat themselves on purpose: ties are where implementations differ.
"""

import numpy as np
from sklearn.calibration import calibration_curve
from sklearn.metrics import roc_auc_score, roc_curve

p = np.array([0.05, 0.1, 0.1, 0.2, 0.2, 0.2, 0.35, 0.35, 0.4, 0.55, 0.55, 0.6, 0.75, 0.8, 0.8, 0.95,
              0.15, 0.25, 0.45, 0.65])
y = np.array([0, 0, 1, 0, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 1, 1, 0, 0, 1, 0])

print("area", repr(float(roc_auc_score(y, p))))
fpr, tpr, _ = roc_curve(y, p, drop_intermediate=False)
for catch in [0.3, 0.5, 0.62, 0.9, 1.0]:
    # tpr rises; at a catch that some threshold hits exactly, the lowest rate of false cuts counts
    idx = int(np.searchsorted(tpr, catch - 1e-12))
    lo = idx - 1
    part = (catch - tpr[lo]) / (tpr[idx] - tpr[lo])
    print("false cuts at", catch, repr(float(fpr[lo] + part * (fpr[idx] - fpr[lo]))))
# calibration_curve puts a score on the edge of two bins into the lower one; the table puts it into the
# upper one, as its rows are named. A nudge upwards makes both agree and moves no mean by 1e-12.
happened, said = calibration_curve(y, np.minimum(p + 1e-14, 1), n_bins=10, strategy="uniform")
print("said", [repr(float(v)) for v in said])
print("happened", [repr(float(v)) for v in happened])

q = np.arange(1, 41) / 41.0 # no ties: forty probabilities in ten groups of four
z = np.array([1 if (7 * k) % 11 < 11 * v else 0 for k, v in enumerate(q)])
happened, said = calibration_curve(z, q, n_bins=10, strategy="quantile")
print("outcomes", z.tolist())
print("expected calibration error", repr(float(np.mean(np.abs(said - happened)))))
