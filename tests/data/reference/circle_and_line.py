"""Circle by nonlinear least squares and line by orthogonal distance regression with scipy, on small seeded sets.

Writes ../scipy_circle.csv and ../scipy_line.csv. Run with: python circle_and_line.py
"""
import sys

import numpy as np
import scipy
from scipy.odr import ODR, Model, RealData
from scipy.optimize import least_squares

rng = np.random.default_rng(20261125)
angle = np.radians(np.sort(rng.uniform(10.0, 85.0, 30)))
x = 12.0 + 25.0 * np.cos(angle) + rng.normal(0.0, 0.05, 30)
y = -7.0 + 25.0 * np.sin(angle) + rng.normal(0.0, 0.05, 30)
x, y = np.round(x, 6), np.round(y, 6)
fit = least_squares(
    lambda p: np.hypot(x - p[0], y - p[1]) - p[2],
    [x.mean(), y.mean() - 10.0, 20.0],
    xtol=1e-15, ftol=1e-15, gtol=1e-15,
)
factor = np.linalg.inv(fit.jac.T @ fit.jac)
versions = f"scipy {scipy.__version__}, numpy {np.__version__}, python {sys.version.split()[0]}"
with open("../scipy_circle.csv", "w", encoding="ascii") as out:
    print(f"# reference/circle_and_line.py, scipy.optimize.least_squares; {versions}; seed 20261125", file=out)
    for k, name in enumerate(["x", "y", "r"]):
        print(f"certified,{name},{fit.x[k]:.12g},{np.sqrt(factor[k, k]):.12g}", file=out)
    print(f"certified,sd,{np.sqrt(2.0 * fit.cost / (len(x) - 3)):.12g}", file=out)
    print("columns,x,y", file=out)
    for row in zip(x, y):
        print("%.6f,%.6f" % row, file=out)

s = np.linspace(0.0, 20.0, 15)
ux = np.round(rng.uniform(0.02, 0.3, 15), 4)
uy = np.round(rng.uniform(0.02, 0.3, 15), 4)
x = np.round(s + rng.normal(0.0, ux), 6)
y = np.round(1.5 - 0.7 * s + rng.normal(0.0, uy), 6)
odr = ODR(RealData(x, y, sx=ux, sy=uy), Model(lambda b, x: b[0] + b[1] * x), beta0=[1.0, -1.0], sstol=1e-15, partol=1e-15)
odr.set_job(fit_type=0, deriv=1)
line = odr.run()
with open("../scipy_line.csv", "w", encoding="ascii") as out:
    print(f"# reference/circle_and_line.py, scipy.odr (ODRPACK, tolerance about 1e-6 on the slope); {versions}; seed 20261125", file=out)
    for k, name in enumerate(["intercept", "slope"]):
        print(f"certified,{name},{line.beta[k]:.12g},{np.sqrt(line.cov_beta[k, k]):.12g}", file=out)
    print(f"certified,chi_square,{line.sum_square:.12g}", file=out)
    print("columns,x,y,ux,uy", file=out)
    for row in zip(x, y, ux, uy):
        print("%.6f,%.6f,%.4f,%.4f" % row, file=out)
