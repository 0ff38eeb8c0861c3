"""Writes probit.csv: a probit regression on open data by statsmodels.

Recipe (any statsmodels; made with 0.15.0):
    python3 -m venv venv && venv/bin/pip install statsmodels
    venv/bin/python tests/reference/make_probit.py > tests/reference/probit.csv

The data are those of L. C. Spector and M. Mazzeo, "Probit Analysis and
Economic Education", Journal of Economic Education 11 (1980), as statsmodels
ships them (public domain). Rows: `data` with grade point average, test score,
whether a new teaching method was used, and whether the grade rose; then what
statsmodels.api.Probit makes of a constant and those three: `coefficients`,
`standard_errors`, and `log_likelihood` in its first cell.
"""

import statsmodels.api as sm

data = sm.datasets.spector.load()
fit = sm.Probit(data.endog, sm.add_constant(data.exog)).fit(
    method="newton", tol=1e-14, maxiter=200, disp=False
)
print("what,a,b,c,d")
for row, grade in zip(data.exog.to_numpy(), data.endog.to_numpy()):
    print("data," + ",".join(repr(float(x)) for x in (*row, grade)))
for name, values in (("coefficients", fit.params), ("standard_errors", fit.bse)):
    print(name + "," + ",".join(f"{float(x):.12g}" for x in values))
print(f"log_likelihood,{fit.llf:.12g},0,0,0")
