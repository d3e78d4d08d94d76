"""Two results side by side: ``python -m tests.benchmarks.compare OLD.json NEW.json``.

Records are paired by brief, peer, workers, seed of the solver. Ratios are of seconds and of deterministic time, old by
new: above 1 the new one is faster. Tier values must be equal where both are proved; where they are not, that is an
alarm, and the exit code is 1. Tiers go by name. The last ones compare weeks with the same content, whichever it is, so
their values may differ.
"""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from statistics import fmean, stdev

from tests.benchmarks.measure import Record

COMPARED_BELOW = 6
"""Of records that do not say it themselves."""
WORST = 8
"""Losses that are printed by name at least; every loss above LOSS is."""
LOSS = 1.25


def geometric(ratios: Iterable[float]) -> tuple[float, float]:
    """Geometric mean and geometric standard deviation."""
    logs = [math.log(r) for r in ratios]
    return math.exp(fmean(logs)), math.exp(stdev(logs)) if len(logs) > 1 else 1.0


def paired(olds: Sequence[Record], news: Sequence[Record], cap: float) -> Iterator[str]:
    """Ratios old by new over the briefs that both have, for the tiers that both solve."""
    by_key = {(r["case"], r.get("solver_seed", 0)): r for r in news}
    pairs = [(old, by_key[k]) for old in olds if (k := (old["case"], old.get("solver_seed", 0))) in by_key]
    if not pairs:
        yield "  no brief in common"
        return
    yield f"  {len(pairs)} pairs: " + ", ".join(
        f"{sum((a['proved'], b['proved']) == which for a, b in pairs)} {words}"
        for which, words in (
            ((True, True), "proved by both"),
            ((False, True), "by the second only"),
            ((True, False), "by the first only"),
            ((False, False), "by neither"),
        )
    )
    both = [(a, b) for a, b in pairs if a["proved"] and b["proved"]]
    for what, value in (("seconds", _seconds), ("deterministic time", _deterministic)):
        ratios = [(x / y, b["case"]) for a, b in both if (x := value(a, b)) and (y := value(b, a))]
        if ratios:
            yield f"  {what}, both proved: {_summary(r for r, _ in ratios)}"
    # What the first did not prove took it at least the cap; what the second did not prove is counted as the cap too.
    capped = [_capped(a, b, cap) for a, b in pairs if a["proved"] or b["proved"]]
    if capped:
        yield f"  seconds, what is not proved counted as {cap:g} s: {_summary(capped)}"
    losses = sorted((_capped(a, b, cap), a, b) for a, b in pairs if a["proved"] or b["proved"])
    for number, (ratio, a, b) in enumerate(losses):
        if ratio < 1 and (number < WORST or ratio < 1 / LOSS):
            ends = [f"{_seconds(r, o):.2f} s{'' if r['proved'] else ' not proved'}" for r, o in ((a, b), (b, a))]
            yield f"  lost: {b['case']:<28} {ratio:.2f}  {ends[0]} against {ends[1]}"
    yield from (f"  ALARM: {line}" for line in disagreements(pairs))


def disagreements(pairs: Iterable[tuple[Record, Record]]) -> Iterator[str]:
    """Different answers: statuses that exclude each other, tier values that differ, bounds above a value found."""
    for a, b in pairs:
        name = a["case"]
        for one, other in ((a, b), (b, a)):
            if one["status"] == "impossible" and other["tiers"]:
                yield f"{name}: impossible for one, a week for the other"
        theirs = {_name(t): t for t in b["tiers"]}
        last = min(r.get("same_work_from", COMPARED_BELOW) for r in (a, b)) - 1
        equal = True
        for mine in a["tiers"]:
            other = theirs.get(_name(mine))
            if mine["tier"] > last or not equal:
                break
            if other is None or other["tier"] != mine["tier"]:
                break  # other tiers: from here on another problem
            if mine["proved"] and other["proved"]:
                if mine["value"] != other["value"]:
                    yield f"{name}: tier {mine['tier']} is {mine['value']} and {other['value']}, both proved"
            elif mine["value"] < other["bound"] or other["value"] < mine["bound"]:
                yield f"{name}: tier {mine['tier']}: a value below the other's bound"
            # A tier says something of the next only from the same value on.
            equal = mine["value"] == other["value"]


def _summary(ratios: Iterable[float]) -> str:
    found = sorted(ratios)
    mean, spread = geometric(found)
    return (
        f"geometric mean {mean:.2f} (x/÷ {spread:.2f}), least {found[0]:.2f}, "
        f"median {found[len(found) // 2]:.2f}, most {found[-1]:.1f}, n = {len(found)}"
    )


def _name(tier: Record) -> str:
    return str(tier.get("name", tier["tier"]))


def _shared(record: Record, other: Record) -> set[str]:
    return {_name(t) for t in record["tiers"]} & {_name(t) for t in other["tiers"]}


def _seconds(record: Record, other: Record) -> float:
    """Seconds for the tiers that both solve, building included."""
    if not record["tiers"] or not other["tiers"] or len(_shared(record, other)) == len(record["tiers"]):
        return float(record["seconds"])
    tiers = [t["seconds"] for t in record["tiers"] if _name(t) in _shared(record, other)]
    return float(record.get("build_seconds", 0) + sum(tiers))


def _deterministic(record: Record, other: Record) -> float:
    shared = _shared(record, other)
    return float(sum(t.get("deterministic") or 0 for t in record["tiers"] if _name(t) in shared))


def _capped(a: Record, b: Record, cap: float) -> float:
    first, second = (_seconds(r, o) if r["proved"] else max(cap, _seconds(r, o)) for r, o in ((a, b), (b, a)))
    return first / second


def main() -> None:
    if len(sys.argv) != 3:
        raise SystemExit(__doc__)
    old, new = (json.loads(Path(name).read_text()) for name in sys.argv[1:])
    from tests.benchmarks.report import label

    cap = max(old["about"]["cap_seconds"], new["about"]["cap_seconds"])
    alarms = 0
    for way in dict.fromkeys(label(r) for r in old["records"]):
        print(f"{way}: {old['about']['commit']} against {new['about']['commit']}; above 1: the second is faster")
        sides = [[r for r in side["records"] if label(r) == way] for side in (old, new)]
        for line in paired(*sides, cap):
            alarms += "ALARM" in line
            print(line)
    sys.exit(bool(alarms))


if __name__ == "__main__":
    main()
