"""Several benches at once, each in a process of its own, that kill a daemon again and again: what they found, in one count."""
import argparse
import collections
import multiprocessing
import time


class Wrong(Exception):
    pass


def must(holds, what):
    if not holds:
        raise Wrong(what)


def arguments(description, kills, workers):
    parser = argparse.ArgumentParser(description=description, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--kills", type=int, default=kills)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=workers)
    return parser.parse_args()


def run(work, args):
    """work(number, kills, seed, results) puts (number, count, failure or None) into results. Returns the total and the failures."""
    began, results = time.monotonic(), multiprocessing.Queue()
    share = [args.kills // args.workers + (n < args.kills % args.workers) for n in range(args.workers)]
    workers = [multiprocessing.Process(target=work, args=(n, share[n], args.seed, results)) for n in range(args.workers)]
    for process in workers:
        process.start()
    total, failures = collections.Counter(), []
    for _ in workers:
        _, count, failure = results.get()
        total += count
        if failure:
            print(f"FAILED  {failure}", flush=True)
            failures.append(failure)
    for process in workers:
        process.join()
    for what in sorted(total):
        print(f"{total[what]:6d} {what}")
    print(f"seed {args.seed}, {args.workers} benches, {time.monotonic() - began:.0f} s")
    return total, failures
