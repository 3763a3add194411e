"""A second solver's opinion on the twenty drafting cases, for tests/programme_draft.rs.

Source: HiGHS 1.16.0 through highspy 1.16.0 (PyPI), one thread. Reads the .lp files of examples/draft_lp.rs and prints
for each case its name, the best points that HiGHS found, and the points that it proved no week can exceed.
A time limit makes the run depend on the machine: the numbers are what was found, the bounds hold anyway.
"""

import pathlib
import sys

import highspy

folder, seconds = pathlib.Path(sys.argv[1]), float(sys.argv[2])
for path in sorted(folder.glob("*.lp")):
    name, constant = (line[2:] for line in path.read_text().splitlines()[:2])
    solver = highspy.Highs()
    solver.setOptionValue("output_flag", False)
    solver.setOptionValue("time_limit", seconds)
    solver.setOptionValue("threads", 1)
    solver.readModel(str(path))
    solver.run()
    info = solver.getInfo()
    found, bound = (1000 * (float(constant) + value) for value in (info.objective_function_value, info.mip_dual_bound))
    print(f"{name};{found:.0f};{bound:.0f}", flush=True)
