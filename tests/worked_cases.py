"""The six worked filters written down as cases for the command; what they must say is common practice, no source."""

from tests.trade.readings import NO_LIGHT, VISUAL, after, before, flow, good, lit, rod, rounds, weight

FOUND = {"visual": VISUAL, "weight": weight(14480), "rod": rod((24, "soft", 170)), "light": NO_LIGHT, "flow": flow(2.75)}
HILL = {
    "mode": "constant_volume",
    "air": {"temperature": "20 °C", "pressure": "83527.67 Pa", "humidity": 0},
    "plate": {"read": "1.74 inH2O", "own": "2.10 inH2O"},
}
WORKED = [
    ("A before", before(FOUND), "clean", ["soft_loading", "flow_above"]),
    (
        "A washed",
        after({"weight": weight(14520, "warm", "wet"), "flow": flow(2.20)}, FOUND),
        "hold",
        ["warm_or_wet", "heavier_after"],
    ),
    ("A dried", after(good(), FOUND), "ok_to_reinstall", ["rod_free", "no_light", "flow_within"]),
    (
        "B",
        before({"visual": VISUAL, "rod": rod((20, "hard", 130), (4, "free", None))}),
        "replace",
        ["hard_average", "most_of_face"],
    ),
    (
        "C",
        after(
            good(rod=rod((14, "hard", 145), (10, "free", None)), flow=flow(1.90), weight=weight(13892)),
            {},
            rounds(13900.0, 13892.0),
        ),
        "replace",
        ["most_of_face"],
    ),
    ("D before", before({"visual": {**VISUAL, "outlet": "black"}, "flow": flow(1.10)}), "clean", ["sooty_outlet"]),
    ("D after", after({"light": lit(34)}), "replace", ["too_many_lit"]),
    (
        "E",
        after(
            good(weight=weight(11452), flow=flow(1.65)),
            {"weight": weight(11900), "flow": flow(3.10)},
            rounds(11460.0, 11452.0),
            spec=None,
        ),
        "hold",
        ["no_flow_limit"],
    ),
    (
        "F",
        after(
            good(flow={"drops": ["1.80 inH2O"], "check": HILL}),
            spec={"low": "1.80 inH2O", "high": "1.95 inH2O", "u": "0.054 inH2O", "origin": "invented", "revision": "A"},
        ),
        "ok_to_reinstall",
        ["rod_free", "no_light", "flow_within"],
    ),
]
