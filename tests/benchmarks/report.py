"""Tables, CSV and picture of a benchmark's records.

A solve that did not end by proof counts as slower than every solve that did; a percentile that falls on one is shown
as ``> cap``. Percentiles are nearest-rank: some solve took that long.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from statistics import median
from typing import Any

from tests.benchmarks.compare import disagreements, geometric, paired
from tests.benchmarks.measure import GAPS_AT_SECONDS, Record

SIZES = ("openings", "exercises", "muscles")


def write_report(out: Path, records: Sequence[Record], cap: float) -> str:
    """Write OUT.csv, OUT.txt and OUT.png beside the records; returns the tables."""
    text = "\n".join(tables(records, cap)) + "\n"
    out.with_suffix(".txt").write_text(text)
    _write_csv(out.with_suffix(".csv"), records)
    picture(out.with_suffix(".png"), records, cap)
    return text


def label(record: Record) -> str:
    """What distinguishes a way of solving: the peer, workers, parameters."""
    peer = record.get("peer", "weekwright")
    workers = record.get("workers", 1)
    extra = [f"{workers} workers"] if workers != 1 else []
    extra += [f"{k}={v}" for k, v in record.get("parameters", {}).items()]
    extra += ["core rules only"] if record["case"].startswith("core:") else []
    return ", ".join([peer, *extra])


def _is_own(record: Record) -> bool:
    """Whether this is the program as it is, with one worker and no parameters changed."""
    return record.get("peer", "weekwright") == "weekwright" and label(record).split(", core")[0] == "weekwright"


def percentile(values: Iterable[float], share: float) -> float:
    """Nearest rank: the least value that a share of all does not pass."""
    ordered = sorted(values)
    return ordered[max(0, math.ceil(share * len(ordered)) - 1)]


def _tiers(records: Iterable[Record]) -> dict[int, str]:
    """The tiers of the records, with their names."""
    found = {t["tier"]: t.get("name", "") for r in records for t in r["tiers"]}
    return dict(sorted(found.items()))


def to_proof(record: Record) -> float:
    """Seconds until everything was proved, building included; infinite where it was not."""
    return record["seconds"] if record["proved"] else math.inf


def tables(records: Sequence[Record], cap: float) -> Iterator[str]:
    ways = dict.fromkeys(label(r) for r in records)
    for way in ways:
        yield from _families(way, [r for r in records if label(r) == way], cap)
    own = [r for r in records if label(r) == "weekwright" and r["tiers"]]
    if own:
        yield from growth(own, cap)
        yield from _same_weeks(own)
    for way in ways:
        mine = [r for r in records if label(r) == way]
        if not _is_own(mine[0]):
            yield ""
            yield f"{way} against weekwright, the same tiers of the same brief; above 1: weekwright is faster"
            yield from paired(mine, [r for r in records if _is_own(r)], cap)


def _families(way: str, records: list[Record], cap: float) -> Iterator[str]:
    def shown(value: float) -> str:
        return f"> {cap:g}" if math.isinf(value) else f"{value:.2f}"

    yield ""
    yield f"{way}: seconds to proof of all tiers, building included; {len(records)} solves"
    head = ["family", "solves", "proved", "imposs.", "p50", "p90", "p95", "worst", "det p50", "det p95"]
    head += [f"done {at} s" for at in GAPS_AT_SECONDS] + [f"gap {at} s" for at in GAPS_AT_SECONDS] + ["build", "MB"]
    yield "".join(f"{h:>{16 if n == 0 else 9}}" for n, h in enumerate(head))
    families = dict.fromkeys(r["family"] for r in records)
    for family in (*families, "all"):
        mine = [r for r in records if family in (r["family"], "all")]
        times = [to_proof(r) for r in mine]
        steady = [r["deterministic"] if r["proved"] else math.inf for r in mine if "deterministic" in r] or [math.nan]
        row = [
            family,
            str(len(mine)),
            str(sum(r["proved"] for r in mine)),
            str(sum(r["status"] == "impossible" for r in mine)),
            *(shown(percentile(times, share)) for share in (0.5, 0.9, 0.95, 1)),
            *(f"{percentile(steady, share):.1f}" for share in (0.5, 0.95)),
            *(f"{sum(t <= at for t in times) / len(mine):.0%}" for at in GAPS_AT_SECONDS),
            *(_gap(mine, at) for at in GAPS_AT_SECONDS),
            f"{median(r.get('build_seconds', math.nan) for r in mine):.2f}",
            f"{max(r.get('peak_mb', 0) for r in mine):.0f}",
        ]
        yield "".join(f"{c:>{16 if n == 0 else 9}}" for n, c in enumerate(row))
    yield ""
    yield "  seconds a tier; what tiers took together stands at the first"
    yield "                            p50      p95    worst  proved"
    for tier, name in _tiers(records).items():
        found = [t for r in records for t in r["tiers"] if t["tier"] == tier and t.get("seconds") is not None]
        if found:
            spent = [t["seconds"] for t in found]
            figures = "".join(f"{percentile(spent, share):9.2f}" for share in (0.5, 0.95, 1))
            yield f"  {tier:>2} {name:<19}{figures}  {sum(t['proved'] for t in found)}/{len(found)}"
    yield from _seeds(records)
    for record in records:
        if not record["proved"]:
            fault = f"  {record['fault']}" if "fault" in record else ""
            ends = " ".join(f"{t['tier']}: {t['value']} > {t['bound']}" for t in record["tiers"] if not t["proved"])
            yield f"  not proved: {record['case']:<28}{record['seconds']:6.1f} s  {record['status']}  {ends}{fault}"


def _seeds(records: list[Record]) -> Iterator[str]:
    """How much the seed of the solver matters, where several were tried; all must prove the same values."""
    by_case: dict[str, list[Record]] = {}
    for record in records:
        by_case.setdefault(record["case"], []).append(record)
    several = {case: found for case, found in by_case.items() if len(found) > 1}
    if not several:
        return
    spreads = []
    for found in several.values():
        seconds = [r["seconds"] for r in found if r["proved"]]
        if len(seconds) > 1:
            spreads.append((geometric(seconds)[1], max(seconds) / min(seconds), found[0]["case"]))
        yield from (f"  ALARM: {text}" for text in disagreements((found[0], other) for other in found[1:]))
    some = sum(0 < sum(r["proved"] for r in found) < len(found) for found in several.values())
    if spreads:
        _, ratio, case = max(spreads)
        middle = median(spread for spread, _, _ in spreads)
        yield f"  seeds: x/÷ {middle:.2f} a brief in the median; worst {case}, {ratio:.1f} times"
    yield f"  seeds: {some} of {len(several)} briefs are proved with some seeds only"


def _gap(records: list[Record], at: int) -> str:
    """Median gap of the tier that was being solved, among the briefs that were not yet done."""
    found = [r[f"gap_at_{at}_s"]["gap"] for r in records if r.get(f"gap_at_{at}_s") and r["seconds"] > at]
    known = [g for g in found if g is not None]
    return f"{median(known):.0%}" if known else "-"


def growth(records: Sequence[Record], cap: float) -> Iterator[str]:
    """Seconds to proof against the sizes of the brief."""
    for size in SIZES:
        yield ""
        yield f"seconds to proof against {size} (impossible weeks left out)"
        for low, high, mine in _bins([r for r in records if r["status"] != "impossible"], size):
            times = [to_proof(r) for r in mine]
            p50, p95 = (percentile(times, s) for s in (0.5, 0.95))
            figures = "".join(
                f"{'> ' + format(cap, 'g') if math.isinf(v) else format(v, '.2f'):>9}" for v in (p50, p95)
            )
            yield f"  {low:>4} to {high:<4} {len(mine):>4} briefs  p50 and p95{figures}"


def _bins(records: list[Record], size: str) -> Iterator[tuple[int, int, list[Record]]]:
    """Up to five groups of like size, each value in one group only."""
    values = sorted(r[size] for r in records)
    edges = sorted({values[len(values) * n // 5] for n in range(5)}) if values else []
    for low, after in zip(edges, [*edges[1:], math.inf], strict=True):
        mine = [r for r in records if low <= r[size] < after]
        yield low, max(r[size] for r in mine), mine


def _same_weeks(records: Sequence[Record]) -> Iterator[str]:
    """The same weeks from larger catalogues, or with more openings: ratios to the smallest."""
    for title, key in (("exercises", _without_exercises), ("openings", _without_openings)):
        groups: dict[str, dict[int, Record]] = {}
        for record in records:
            if (name := key(record["case"])) is not None:
                size = record["exercises"] if title == "exercises" else record["openings"]
                groups.setdefault(name, {})[size if title == "openings" else _nominal(record["case"])] = record
        groups = {name: found for name, found in groups.items() if len(found) > 1}
        if not groups:
            continue
        yield ""
        yield f"the same {len(groups)} weeks with more {title}: against the fewest, geometric mean (spread)"
        sizes = sorted({size for found in groups.values() for size in found})
        for size in sizes[1:]:
            pairs = [(found[sizes[0]], found[size]) for found in groups.values() if {sizes[0], size} <= set(found)]
            both = [(a, b) for a, b in pairs if a["proved"] and b["proved"]]
            lost = sum(a["proved"] and not b["proved"] for a, b in pairs)
            yield f"  {sizes[0]} to {size}: {len(both)} of {len(pairs)} proved in both, {lost} no longer proved"
            for what in ("seconds", "deterministic"):
                ratios = [b[what] / a[what] for a, b in both if a.get(what) and b.get(what)]
                if ratios:
                    mean, spread = geometric(ratios)
                    yield f"    {what:<14} {mean:.2f} times (x/÷ {spread:.2f}), worst {max(ratios):.1f}"


def _nominal(case: str) -> int:
    return int(case.split("-")[2])


def _without_exercises(case: str) -> str | None:
    parts = case.split("-")
    return f"{parts[0]}-{parts[1]}" if len(parts) == 3 and ":" not in case else None


def _without_openings(case: str) -> str | None:
    parts = case.split("-")
    return "-".join(parts[:3]) if len(parts) == 4 else None


def _write_csv(path: Path, records: Sequence[Record]) -> None:
    plain = ["case", "family", "peer", "workers", "solver_seed", "status", "proved", "seconds", "build_seconds"]
    plain += ["deterministic", "peak_mb", "variables", "constraints", "openings", "exercises", "classes", "muscles"]
    plain += ["sessions"]
    columns: dict[str, Callable[[Record], Any]] = {name: lambda r, name=name: r.get(name) for name in plain}
    for at in GAPS_AT_SECONDS:
        for part in ("tier", "gap"):
            columns[f"{part}_at_{at}_s"] = lambda r, at=at, part=part: (r.get(f"gap_at_{at}_s") or {}).get(part)
    for tier in _tiers(records):
        for part in ("value", "bound", "proved", "seconds", "deterministic"):
            columns[f"tier_{tier}_{part}"] = lambda r, tier=tier, part=part: next(
                (t.get(part) for t in r["tiers"] if t["tier"] == tier), None
            )
    with path.open("w", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(columns)
        writer.writerows([pick(r) for pick in columns.values()] for r in records)


def picture(path: Path, records: Sequence[Record], cap: float) -> None:
    """How many briefs are proved within so many seconds, and seconds against the sizes."""
    import matplotlib as mpl

    mpl.use("Agg")
    from matplotlib import pyplot as plt

    figure, axes = plt.subplots(2, 2, figsize=(11, 8), layout="constrained")
    profile = axes[0][0]
    for way in dict.fromkeys(label(r) for r in records):
        mine = [r for r in records if label(r) == way]
        times = sorted(t for t in map(to_proof, mine) if not math.isinf(t))
        shares = [100 * (n + 1) / len(mine) for n in range(len(times))]
        profile.step([*times, cap], [*shares, shares[-1] if shares else 0], where="post", label=way)
    profile.set(xscale="log", xlabel="seconds", ylabel="% of solves proved", ylim=(0, 101))
    profile.legend(fontsize="small")
    profile.grid(alpha=0.3)
    own = [r for r in records if label(r) == "weekwright" and r["tiers"]]
    for axis, size in zip((axes[0][1], axes[1][0], axes[1][1]), SIZES, strict=True):
        for family in dict.fromkeys(r["family"] for r in own):
            mine = [r for r in own if r["family"] == family]
            axis.scatter([r[size] for r in mine], [r["seconds"] for r in mine], s=14, alpha=0.7, label=family)
        open_ends = [r for r in own if not r["proved"]]
        axis.scatter(
            [r[size] for r in open_ends],
            [r["seconds"] for r in open_ends],
            s=50,
            facecolors="none",
            edgecolors="black",
            label="not proved",
        )
        axis.set(yscale="log", xlabel=size, ylabel="seconds")
        axis.grid(alpha=0.3)
    axes[0][1].legend(fontsize="x-small", ncols=2)
    figure.savefig(path, dpi=110)
    plt.close(figure)
