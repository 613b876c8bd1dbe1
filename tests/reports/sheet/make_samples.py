#!/usr/bin/env python3
"""Writes the sample records of this folder: petal_pass, petal_fold_dead, plank_untested, crowded.

The figures are invented but shaped like those of a real run; nothing here is an expected value.
Run it in this folder after changing the schema: python3 make_samples.py
"""
import json
import math
import random


def rounded(values):
    return [float(f"{v:.5g}") for v in values]


def series(name, unit, values):
    return {"name": name, "unit": unit, "values": rounded(values)}


def measure(key, part, value, u, unit, n):
    return {"key": key, "part": part, "value": value, "u": u, "unit": unit, "n": n}


def verdict(key, part, value, u, unit, n, outcome=None, lower=None, upper=None, origin="common practice"):
    judged = outcome is not None
    v = measure(key, part, value, u, unit, n)
    v.update(outcome=outcome, lower=lower, upper=upper, origin=origin if judged else None,
             guard_band=1.645 * u if judged else 0.0, false_accept_risk=0.0)
    if judged and u > 0:
        edges = [abs(value - e) / u for e in (lower, upper) if e is not None]
        tail = 0.5 * math.erfc(min(edges) / math.sqrt(2))
        v["false_accept_risk"] = tail if outcome != "fail" else 1 - tail
    return v


def touch_map(part, cols, rows, fold, dead):
    reached = [0 if (c, r) in dead else 1 for r in range(rows) for c in range(cols)]
    return {"kind": "touch_map", "part": part, "cols": cols, "rows": rows,
            "series": [series("reached", "1", reached), series("fold_rows", "1", fold)]}


def touch(parts, dead=(), outcome="pass"):
    verdicts, plots = [], []
    for i, (part, cols, rows, fold, rate) in enumerate(parts):
        gone = set(dead) if i == 0 else set()
        pct = 100.0 * len(gone) / (cols * rows)
        bad = "fail" if gone else "pass"
        verdicts += [
            verdict("touch_grid.dead_area_pct", part, pct, 0.2, "%", cols * rows, bad, upper=2.0),
            verdict("touch_grid.dead_region_cells", part, float(len(gone)), 0, "1", cols * rows, bad, upper=3),
            verdict("touch_grid.edge_reach_mm", part, 0.62, 0.11, "mm", 88, "pass", upper=2.5),
            verdict("touch_grid.straightness_rms_mm", part, 0.071, 0.004, "mm", 412, "pass", upper=0.5),
            verdict("touch_grid.report_rate_hz", part, rate - 0.3, 0.4, "Hz", 9120, "pass", lower=rate * 0.9),
            verdict("touch_grid.ghost_contacts", part, 0.0, 0, "1", 1, "pass", upper=0),
            verdict("touch_grid.contacts_max", part, 2.0, 0, "1", 1, "pass", lower=2),
        ]
        plots.append(touch_map(part, cols, rows, fold, gone))
    findings = []
    if outcome == "fail":
        findings = [{"id": "fold_flex_pinched", "says": "A band across the whole width at the fold does not answer.",
                     "open_again": "Reseat the display flex that runs through the hinge and look for a pinched fold.",
                     "part": parts[0][0],
                     "evidence": [measure("touch_grid.dead_region_cells", parts[0][0], float(len(dead)), 0, "1", 476)]}]
    return {"id": "touch_grid", "title": "Touch grid", "customer_title": "Touch on the whole screen", "outcome": outcome,
            "reason": "", "tries": 2 if outcome == "fail" else 1, "bench_seconds": 64.2, "verdicts": verdicts,
            "findings": findings, "plots": plots}


def hinge(rng):
    t, angle = [], []
    time, a = 0.0, 180.0
    for _ in range(4):
        for start, end in ((180.0, 0.0), (0.0, 180.0)):
            for i in range(18):
                s = i / 17
                t.append(time + 1.6 * s)
                angle.append(start + (end - start) * (3 * s * s - 2 * s ** 3) + rng.gauss(0, 0.25))
            time += 1.6
            for i in range(4):
                t.append(time + 0.2 * (i + 1))
                angle.append(end + 0.35 + rng.gauss(0, 0.25))
            time += 0.8
    return {"id": "hinge_sweep", "title": "Hinge-angle sweep", "customer_title": "Hinge and its angle sensor",
            "outcome": "pass", "reason": "", "tries": 1, "bench_seconds": 32.4,
            "verdicts": [
                verdict("hinge_sweep.events", "", 712.0, 0, "1", 712),
                verdict("hinge_sweep.range_deg", "", 179.86, 0.19, "deg", 8, "pass", lower=175),
                verdict("hinge_sweep.offset_closed_deg", "", 0.31, 0.31, "deg", 44, "pass", -3, 3),
                verdict("hinge_sweep.offset_square_deg", "", 0.58, 0.31, "deg", 46, "pass", -3, 3),
                verdict("hinge_sweep.offset_flat_deg", "", 0.17, 0.31, "deg", 45, "pass", -3, 3),
                verdict("hinge_sweep.hysteresis_deg", "", 0.81, 0.07, "deg", 90, "pass", upper=3),
                verdict("hinge_sweep.gap_deg", "", 0.42, 0.35, "deg", 702, "pass", upper=8, origin="learned"),
                verdict("hinge_sweep.noise_deg", "", 0.246, 0.014, "deg", 160, "pass", upper=0.8),
            ],
            "findings": [],
            "plots": [{"kind": "hinge_curve", "part": "", "cols": 0, "rows": 0,
                       "series": [series("t", "s", t), series("angle", "deg", angle),
                                  series("stop_deg", "deg", [0, 90, 180]),
                                  series("stop_reported_deg", "deg", [0.31, 90.58, 180.17])]}]}


def batteries(rng, cells):
    t = [float(i) for i in range(61)]
    all_series, verdicts = [series("t", "s", t)], []
    for name, emf, r, share, soh in cells:
        current = [-share * (1190 if 20 <= x < 40 else 282) + rng.gauss(0, 4) for x in t]
        volts = [emf + i / 1000 * r - 0.00004 * x for i, x in zip(current, t)]
        all_series += [series(name + " V", "V", volts), series(name + " I", "mA", current)]
        verdicts += [
            verdict("batteries.present", name, 1.0, 0, "1", 1, "pass", lower=1),
            verdict("batteries.soh_pct", name, soh, 0.6, "%", 1, "pass", lower=80),
            verdict("batteries.design_ratio", name, 1.0, 0.002, "1", 1, "pass", 0.95, 1.05, "maker's figure"),
            verdict("batteries.resistance_mohm", name, r * 1000, 2.4, "mohm", 12, "pass", upper=r * 1000 * 1.6),
            verdict("batteries.temperature_c", name, 30.6, 0.3, "degC", 61, "pass", upper=45),
        ]
    return {"id": "batteries", "title": "Batteries", "customer_title": "Batteries" if len(cells) > 1 else "Battery",
            "outcome": "pass", "reason": "", "tries": 1, "bench_seconds": 61.0, "verdicts": verdicts, "findings": [],
            "plots": [{"kind": "battery_trace", "part": "", "cols": 0, "rows": 0, "series": all_series}]}


def wireless(rng, ma):
    t = [i * 0.5 for i in range(110)]
    current = [-280 if x < 3 else ma * (1 - math.exp(-(x - 3) / 1.2)) + rng.gauss(0, 9) for x in t]
    return {"id": "wireless_charging", "title": "Wireless charging", "customer_title": "Charging without a cable",
            "outcome": "pass", "reason": "", "tries": 1, "bench_seconds": 66.5,
            "verdicts": [verdict("wireless_charging.coupled", "", 1.0, 0, "1", 1, "pass", lower=1),
                         verdict("wireless_charging.couple_s", "", 2.5, 0.14, "s", 1, "pass", upper=8),
                         verdict("wireless_charging.net_current_ma", "", ma - 3.4, 11.0, "mA", 70, "pass", lower=ma * 0.7),
                         verdict("wireless_charging.dropouts", "", 0.0, 0, "1", 80, "pass", upper=0),
                         verdict("wireless_charging.temp_slope_c_per_min", "", 0.62, 0.09, "degC/min", 80)],
            "findings": [],
            "plots": [{"kind": "charge_trace", "part": "", "cols": 0, "rows": 0,
                       "series": [series("t", "s", t), series("current", "mA", current)]}]}


def cameras(names):
    f = [i / 64 for i in range(33)]
    verdicts, plots = [], []
    for i, name in enumerate(names):
        mc, mw = 0.31 - 0.02 * i, 0.24 - 0.02 * i
        verdicts += [verdict("cameras.present", name, 1.0, 0, "1", 1, "pass", lower=1),
                     verdict("cameras.mtf50_centre_cpp", name, mc, 0.006, "cpp", 24, "pass", lower=0.2),
                     verdict("cameras.mtf50_worst_corner_cpp", name, mw, 0.008, "cpp", 24, "pass", lower=0.14),
                     verdict("cameras.glare_pct", name, 1.4, 0.2, "%", 3, "pass", upper=6),
                     verdict("cameras.white_delta_e00", name, 2.1, 0.3, "1", 3)]
        plots.append({"kind": "sfr", "part": name, "cols": 0, "rows": 0,
                      "series": [series("frequency", "cycles/px", f),
                                 series("centre", "1", [math.exp(-math.log(2) * (x / mc) ** 2) for x in f]),
                                 series("worst", "1", [math.exp(-math.log(2) * (x / mw) ** 2) for x in f])]})
    return {"id": "cameras", "title": "Cameras", "customer_title": "Cameras", "outcome": "pass", "reason": "",
            "tries": 1, "bench_seconds": 41.8, "verdicts": verdicts, "findings": [], "plots": plots}


def untested(check, reason):
    check.update(outcome="not tested", reason=reason, verdicts=[], findings=[], plots=[])
    return check


ORDER = ["pass", "waived", "not tested", "marginal", "fail"]


def record(checks, petal, number, clock="wall", **more):
    r = {"schema": "handback-record-1",
         "run": {"id": "01K3XPS4T0V7Q2M9ZB6C8D1EFG", "kind": "release", "started": "2026-11-25T10:36:12Z",
                 "finished": "2026-11-25T10:42:07Z", "clock": clock, "link": "tcp", "bench_seconds": 268.0,
                 "software": "handback 0.1.0"},
         "job": {"id": number, "opened": "2026-11-20T09:05:00Z", "fault": "Screen black after a fall",
                 "parts": [{"name": "Display-hinge assembly", "lot": "DH-24K7"}, {"name": "Rear cover", "lot": "RC-2611"},
                           {"name": "Adhesive set", "lot": "AD-0926"}] if petal else
                          [{"name": "Charging coil", "lot": "WC-2610"}],
                 "colour": "Graphite frame, sage cover" if petal else "", "consent": True, "comeback_of": "",
                 "repair": "display-hinge swap" if petal else "coil swap"},
         "bench": {"shop": "Lantern Street Repairs", "name": "bench 2", "contact": "Lantern Street 14, at the counter Mon to Sat",
                   "key_id": "kPrK_qmxVWaYVA9wwBF6Iuo3vVzz7TxHCTwXBygrS4k"},
         "phone": {"tag": "6f0c7a1be2d94c55", "tail": "7F3K", "model": "Velmora Petal" if petal else "Velmora Plank",
                   "profile_sha256": "9d" * 32},
         "outcome": max((c["outcome"] for c in checks), key=ORDER.index), "checks": checks}
    for section, values in more.items():
        r[section].update(values)
    return r


PETAL_PANELS = [("inner", 14, 34, [15, 18], 240.0), ("outer", 12, 12, [], 120.0)]
PETAL_CELLS = [("battery-main", 3.905, 0.095, 0.6, 97.4), ("battery-sub", 3.905, 0.140, 0.4, 98.1)]


def petal(seed, dead=()):
    rng = random.Random(seed)
    return [touch(PETAL_PANELS, dead, "fail" if dead else "pass"), hinge(rng), batteries(rng, PETAL_CELLS),
            wireless(rng, 1700.0), cameras(["wide", "ultra", "selfie"])]


def plank():
    rng = random.Random(3)
    return [touch([("inner", 14, 29, [], 180.0)]), batteries(rng, [("battery", 3.93, 0.060, 1.0, 99.2)]),
            untested(wireless(rng, 1500.0), "the battery is full: the charging current cannot be judged"),
            cameras(["main", "front"])]


def crowded():
    """Everything at once: 12 checks with long texts, 8 parts, no good news."""
    checks = petal(4, [(c, r) for c in range(14) for r in (16, 17)])
    long = ("The measured values left the range that the maker names for this part, several times and at more than one "
            "place, and the cause could not be narrowed down to a single connector.")
    names = ["Sound of speaker and earpiece", "Every microphone", "Motion sensors in both halves of the phone",
             "Keys, switches and the fingerprint reader", "Charging and data at the wired port", "Radios: presence and level",
             "Gaps, screws and covers of the housing"]
    for i, name in enumerate(names):
        outcome = ["fail", "marginal", "not tested", "pass", "waived", "fail", "not tested"][i]
        judged = {"fail": "fail", "marginal": "marginal", "pass": "pass"}.get(outcome)
        checks.append({"id": f"extra_{i}", "title": name, "customer_title": name, "outcome": outcome,
                       "reason": "the room was too loud for this measurement and the customer could not wait for a second appointment, "
                                 "so that it was agreed to do it another day" if judged is None else "",
                       "tries": 3, "bench_seconds": 30.0,
                       "verdicts": [verdict(f"extra_{i}.level_db", "left half", {"fail": 51.25, "marginal": 60.4}.get(outcome, 71.25), 0.8, "dB", 9, judged, lower=60.0)] if judged else [],
                       "findings": [{"id": "long", "says": long, "open_again": "Start with the connector nearest to the part.",
                                     "part": "", "evidence": []}] if outcome == "fail" else [], "plots": []})
    parts = [{"name": f"Replacement part number {i} with a rather long descriptive name from the catalogue", "lot": f"LOT-{i}4K7-2026-B"}
             for i in range(1, 9)]
    return record(checks, True, "J-20261125-0042", clock="stepped by a fixture",
                  job={"parts": parts, "colour": "Graphite frame with a sage rear cover and an amber camera ring, as shown on the card"},
                  bench={"shop": "The Very Patient Repair Workshop for Folding Telephones and Other Delicate Things",
                         "contact": "Behind the old market hall, second yard on the left, bell marked workshop, open from Monday noon to "
                                    "Saturday evening except on market days"})


def write(name, data):
    with open(name, "w", encoding="utf-8") as f:
        json.dump(data, f, indent=None, separators=(",", ":"), ensure_ascii=False)
        f.write("\n")


write("petal_pass.json", record(petal(1), True, "J-20261125-0001"))
write("petal_fold_dead.json", record(petal(2, [(c, r) for c in range(14) for r in (16, 17)]), True, "J-20261125-0002"))
write("plank_untested.json", record(plank(), False, "J-20261125-0003", clock="stepped"))
write("crowded.json", crowded())
