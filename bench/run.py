"""Times one filter pass over 10,000 observations (statsmodels' Cython filter and ours), reading a log (the csv
crate and ours) and one pass of the recovery model over two years (statsmodels and ours), each pair in one run;
and, alone, one reading, one estimate of a lifter's parameters, and those of a squad (of LIFTERS lifters, a
variable, 20 by default). Then the desk: the program serving WEB_LIFTERS lifters of two years each (a variable,
40 by default; the limits are for 1000) from a record kept in the folder WEB_FOLDER, if that is set, beside a bare
axum handler that answers the same bytes. Last the desk under load: LOAD_CLIENTS clients (200 by default) for
LOAD_SECONDS seconds (120 by default), beside the same clients that only tell sets.

`--short` goes through everything in small: it tries that the benches work, and its figures mean little.

Checks first that both compute the same likelihood. Add another bench as a function here and a module in
src/; what it prints goes under its own heading.
"""
import os
import subprocess
import sys
import tempfile
import time

# Small matrices gain nothing from a second thread, and lose much when the other core is busy.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "../crates/engine/tests/reference"))
sys.dont_write_bytecode = True

try:
    import numpy as np
    import statsmodels
    from statsmodels.tsa.statespace.kalman_filter import (
        FILTER_CONVENTIONAL,
        FILTER_UNIVARIATE,
        MEMORY_CONSERVE,
        KalmanFilter,
    )

    import recovery_model
except ImportError:
    statsmodels = None

N = 10_000
SHORT = False


def observations():
    """A drifting trend seen through noise, the same on every machine (PCG64, seed 1)."""
    normal = np.random.Generator(np.random.PCG64(1)).standard_normal((3, N))
    slope = np.cumsum(normal[0]) * 0.001**0.5
    return 100 + np.cumsum(slope + normal[1] * 0.1**0.5) + normal[2]


def model(y, transition, noise):
    k = len(transition)
    filter_ = KalmanFilter(k_endog=1, k_states=k)
    filter_.bind(y[:, None].copy(order="C"))
    filter_["design"], filter_["selection"] = np.eye(1, k), np.eye(k)
    filter_["transition"], filter_["state_cov"] = np.array(transition, float), np.array(noise, float)
    filter_["obs_cov"] = [[1.0]]
    filter_.initialize_diffuse()
    return filter_


def best_of(repeats, work, clock=time.perf_counter_ns):
    best = float("inf")
    for _ in range(repeats):
        begin = clock()
        work()
        best = min(best, clock() - begin)
    return best


def reference(y, transition, noise, tolerance):
    """Nanoseconds for the likelihood alone and with stored output, and the likelihood.

    The Cython loop only, by the faster of its two filter methods. `tolerance` is statsmodels' own: its default freezes the covariance once it has settled, which is only
    right for evenly spaced data without gaps; 0 computes it at every step, as ours does.
    """
    times = []
    for conserve in [MEMORY_CONSERVE, 0]:
        times.append(min(cython_pass(y, transition, noise, tolerance, conserve, method)
                         for method in [FILTER_CONVENTIONAL, FILTER_UNIVARIATE]))
    return times, model_loglike(y, transition, noise)


def cython_pass(y, transition, noise, tolerance, conserve, method):
    filter_ = model(y, transition, noise)
    filter_.tolerance = tolerance
    filter_.conserve_memory = conserve
    filter_.filter_method = method
    # The prepared Cython filter; calling it is one pass, with nothing of the Python wrapper in it.
    prefix = filter_._initialize_filter()[0]
    filter_._initialize_state(prefix=prefix)
    return best_of(10, filter_._kalman_filters[prefix])


def model_loglike(y, transition, noise):
    filter_ = model(y, transition, noise)
    filter_.tolerance = 0
    return float(filter_.filter().llf_obs.sum())


def numbers(binary, bench, *arguments):
    command = [binary, bench, *arguments]
    text = subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True).stdout
    return {name: float(value) for name, value in (line.split() for line in text.splitlines())}


def filters(binary, folder):
    y = observations()
    path = os.path.join(folder, "observations.txt")
    with open(path, "w") as file:
        file.writelines(f"{value!r}\n" for value in y.tolist())
    got = numbers(binary, "filter", path)
    models = {
        "level": ([[1]], [[0.1]]),
        "trend": ([[1, 1], [0, 1]], [[0.1 + 0.001 / 3, 0.0005], [0.0005, 0.001]]),
    }
    print(f"One pass over {N} observations, exact diffuse start; statsmodels {statsmodels.__version__}; best of n")
    print("model  pass         statsmodels (settling)  statsmodels (every step)      ours     ratio (settling, every)")
    for name, (transition, noise) in models.items():
        settling, likelihood = reference(y, transition, noise, 1e-19)
        every, _ = reference(y, transition, noise, 0)
        gap = abs(got[f"{name}_log_likelihood"] / likelihood - 1)
        if gap > 1e-9:
            sys.exit(f"`{name}` log-likelihoods differ by {gap:.1e} of their value, needs at most 1e-9")
        for index, kind in enumerate(["alone", "stored"]):
            mine = got[f"{name}_{kind}_ns"]
            print(f"{name}  {kind:6} {settling[index] / 1e3:24.0f} us {every[index] / 1e3:22.0f} us"
                  f" {mine / 1e3:9.0f} us {settling[index] / mine:10.1f} x {every[index] / mine:8.1f} x")
        print(f"{name}  log-likelihoods agree to {gap:.1e} of their value")
    print(f"maximum likelihood, trend, 100 observations: {got['trend_fit_100_ns'] / 1e6:.2f} ms,"
          f" {got['trend_fit_100_evaluations']:.0f} evaluations")


def imports(binary, folder):
    got = numbers(binary, "import", os.path.join(folder, "log.csv"), "20000" if SHORT else "500000")
    plain, mine, lines = (got[f"import_{name}"] for name in ["plain_ns", "ours_ns", "lines"])
    print(f"\nReading a log of {lines:.0f} lines: the csv crate splits them, ours checks them and makes sets; best of n")
    print(f"csv crate {plain / 1e6:.0f} ms, ours {mine / 1e6:.0f} ms ({lines / mine * 1e9:.0f} lines a second):"
          f" {mine / plain:.1f} times the time")


def recovery(binary, folder):
    path = os.path.join(folder, "record.txt")
    got = numbers(binary, "recovery", path)
    record = recovery_model.Record(*recovery_model.read(path))
    likelihood = record.log_likelihood(record.filter().filter())
    gap = abs(got["recovery_log_likelihood"] / likelihood - 1)
    if gap > 1e-9:
        sys.exit(f"the recovery model's log-likelihoods differ by {gap:.1e} of their value, needs at most 1e-9")
    mine = got["recovery_pass_ns"]
    print(f"\nRecovery model, two years: {record.k} states, {len(record.y) - 1} observed numbers,"
          f" {got['recovery_lead_sets']:.0f} lead sets, {got['recovery_muscles']:.0f} muscles")
    print(f"one pass, ours {mine / 1e6:.2f} ms with whatever parameters, and {got['recovery_preparing_ns'] / 1e6:.2f} ms"
          f" once for a record; log-likelihoods agree to {gap:.1e} of their value")
    times = [recovery_reference(record, method) for method in [FILTER_CONVENTIONAL, FILTER_UNIVARIATE]]
    names = ["filter(), which keeps every state", "loglike()", "the compiled loop inside of loglike(), alone"]
    for name, reference in zip(names, (min(of_methods) for of_methods in zip(*times))):
        print(f"statsmodels on matrices made before, {name}: {reference / 1e6:.0f} ms, {reference / mine:.0f} x")
    print(f"one pass of the model as it ships {got['recovery_shipped_pass_ns'] / 1e6:.2f} ms,"
          f" one forecast and reading {got['recovery_reading_ns'] / 1e3:.1f} us,"
          f" one estimate of a lifter {got['recovery_refit_ns'] / 1e9:.2f} s")
    lifters = setting("LIFTERS", 20, 2)
    got = numbers(binary, "squad", str(lifters))
    seconds = got["squad_ns"] / 1e9
    print(f"{lifters} lifters estimated on {got['squad_cores']:.0f} cores: {seconds:.1f} s,"
          f" {got['squad_converged']:.0f} converged; 10,000 would take {seconds / lifters * 10_000 / 3600:.1f} h")


def recovery_reference(record, method):
    """Least processor time of statsmodels' filter(), its loglike() and the compiled loop inside of that, by one of
    its filter methods, on the record's arrays."""
    filter_ = record.filter()
    filter_.filter_method = method
    times = [best_of(5, work, clock=time.process_time_ns) for work in [filter_.filter, filter_.loglike]]
    filter_.conserve_memory = MEMORY_CONSERVE
    prefix = filter_._initialize_filter()[0]
    filter_._initialize_state(prefix=prefix)
    return [*times, best_of(10, filter_._kalman_filters[prefix], clock=time.process_time_ns)]


def of_the_program(binary, name, program, folder, *arguments):
    """The numbers of a bench that serves the program, without its name before each."""
    got = numbers(binary, name, program, os.environ.get("WEB_FOLDER", folder), *map(str, arguments))
    return {number.removeprefix(f"{name}_"): value for number, value in got.items()}


def setting(name, usual, in_short):
    """A number from a variable; without one, the usual or that of the short form."""
    return int(os.environ.get(name, in_short if SHORT else usual))


def web(binary, program, folder):
    got = of_the_program(binary, "web", program, folder, setting("WEB_LIFTERS", 40, 2), setting("WEB_SECONDS", 60, 2))
    print(f"\nThe desk with {got['lifters']:.0f} lifters of two years, {got['sets']:.0f} sets")
    print(f"first page after the start {got['first_squad_ms']:.0f} ms, everybody read after"
          f" {got['all_read_ms'] / 1e3:.1f} s, then {got['memory_mb']:.0f} MB of memory")
    print(f"{got['requests']:.0f} pages at 50 a second, each timed from when it was due: median"
          f" {got['median_ms']:.1f} ms (limit 50), 99th percentile {got['p99_ms']:.1f} ms (limit 200)")
    print("page        median    p99 under load  |  alone      bare handler   ratio    bytes over the wire")
    for page in ["squad", "lifter", "lift", "card", "settings", "new-lifter"]:
        alone, bare = got[f"{page}_alone_ms"], got[f"{page}_bare_ms"]
        print(f"{page:10} {got[f'{page}_median_ms']:6.1f} ms {got[f'{page}_p99_ms']:8.1f} ms"
              f"       | {alone:6.2f} ms {bare:10.2f} ms {alone / bare:8.1f} {got[f'{page}_bytes']:13.0f}")
    print(f"a set told by a phone, durable: median {got['set_ms']:.2f} ms (limit 20), 99th percentile"
          f" {got['set_p99_ms']:.1f} ms, bare handler {got['set_bare_ms']:.2f} ms: ratio"
          f" {got['set_ms'] / got['set_bare_ms']:.1f} ({got['told']:.0f} sets)")
    print(f"the floor's page with all it needs: {got['floor_bytes'] / 1e3:.1f} kB over the wire (limit 100)")


def load(binary, program, folder):
    clients, seconds = setting("LOAD_CLIENTS", 200, 24), setting("LOAD_SECONDS", 120, 8)
    busy = os.getloadavg()[0]
    got = of_the_program(binary, "load", program, folder, clients, seconds)
    print(f"\n{got['clients']:.0f} clients for {got['seconds']:.0f} s on {got['cores']:.0f} cores, {got['lifters']:.0f}"
          f" lifters: each in turn a set, a day and a page, a second's thought between; {busy:.1f} others wanted a"
          " core before it began")
    print("            answers     median        p99    longest")
    rows = [("sets alone", "alone_set"), ("sets", "mixed_set"), ("days", "mixed_day"), ("pages", "mixed_page")]
    for name, of in rows:
        times = [got[f"{of}_{what}_ms"] for what in ["median", "p99", "longest"]]
        print(f"{name:10} {got[f'{of}s']:8.0f} " + " ".join(f"{time:7.1f} ms" for time in times))
    print(f"sets among all that against sets alone: {got['mixed_set_median_ms'] / got['alone_set_median_ms']:.1f} times at"
          f" the median, {got['mixed_set_p99_ms'] / got['alone_set_p99_ms']:.1f} times at the 99th percentile (limit 250 ms)")
    print(f"no error; {got['told']:.0f} sets told, each on record once; before and afterwards"
          f" {got['memory_before_mb']:.0f} and {got['memory_after_mb']:.0f} MB,"
          f" {got['descriptors_before']:.0f} and {got['descriptors_after']:.0f} descriptors,"
          f" {got['threads_before']:.0f} and {got['threads_after']:.0f} threads")


def main(binary, program, wanted="all"):
    with tempfile.TemporaryDirectory() as folder:
        if wanted == "all" and statsmodels is None:
            print("statsmodels can't be had here: the filter and the recovery model are left out")
        elif wanted == "all":
            filters(binary, folder)
            recovery(binary, folder)
        if wanted == "all":
            imports(binary, folder)
        if wanted in ("all", "web"):
            web(binary, program, folder)
        if wanted in ("all", "load"):
            load(binary, program, folder)


if __name__ == "__main__":
    SHORT = "--short" in sys.argv
    main(*[argument for argument in sys.argv[1:] if argument != "--short"])
