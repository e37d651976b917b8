"""Figures from outside the project that `ashbook calc` must give, each with its source; read, computed or from memory."""

MIDDLE = "--long|10.5 in|--length|12 in|--cells|200|--wall|12 mil"
AT_200 = MIDDLE + "|--flow|200 cfm|--viscosity|1.8134e-5|--permeability|5e-13"
FACTOR = "--count|{}|--coverage|{}|--confidence|{}"

# name, options, result, value, tolerance (relative where it says so), source; read, computed with a library, or memory
REL = "rel"
OUTSIDE = [
    # NIST SP 811 (2008), Appendix B.8 and B.9 (read in two public transcriptions)
    ("unit-conversion", "--value|1|--from|inH2O|--to|Pa", "value", 249.0889, 5e-8, REL),
    ("unit-conversion", "--value|1|--from|mmH2O|--to|Pa", "value", 9.80665, 1e-12, REL),
    ("unit-conversion", "--value|1|--from|lb|--to|kg", "value", 0.4535924, 1e-7, REL),
    ("unit-conversion", "--value|0.001|--from|in|--to|m", "value", 2.54e-5, 1e-12, REL),
    ("unit-conversion", "--value|1|--from|cfm|--to|m³/s", "value", 0.0004719474, 1.5e-7, REL),
    ("unit-conversion", "--value|1|--from|inH2O (4 °C)|--to|Pa", "value", 249.082, 3e-6, REL),
    ("unit-conversion", "--value|1|--from|inH2O (60 °F)|--to|Pa", "value", 248.84, 1e-5, REL),
    ("unit-conversion", "--value|1|--from|mmHg|--to|Pa", "value", 133.3224, 3e-7, REL),
    ("unit-conversion", "--value|1|--from|mil|--to|m", "value", 2.54e-5, 1e-12, REL),
    # arithmetic on the same exact factors, pint 0.25.3
    ("unit-conversion", "--value|2.45|--from|inH2O|--to|Pa", "value", 610.267829, 1e-6, REL),
    ("unit-conversion", "--value|2.45|--from|inH2O|--to|kPa", "value", 0.610267829, 1e-6, REL),
    ("unit-conversion", "--value|0.03|--from|in|--to|mm", "value", 0.762, 1e-12, REL),
    ("unit-conversion", "--value|18.375|--from|lb|--to|g", "value", 8334.7598, 1e-8, REL),  # 18 lb 6 oz
    ("unit-conversion", "--value|294|--from|oz|--to|g", "value", 8334.7598, 1e-8, REL),  # the same
    ("unit-conversion", "--value|400|--from|cfm|--to|m³/s", "value", 0.188778977, 1e-7, REL),
    ("unit-conversion", "--value|10|--from|mbar|--to|inH2O", "value", 4.01463076, 1e-7, REL),
    # CIPM table of moist air, 40 °C, 760 mmHg, 40 % (read in a public test suite)
    ("air-density", "--temperature|40 °C|--pressure|101325.014 Pa|--humidity|40 %", "density", 1.11497, 1e-4, REL),
    # NISTIR 6969, SOP 2, example 1 (read in a public test suite); its formula is the 1978 one
    ("air-density", "--temperature|22.3 °C|--pressure|99738.478 Pa|--humidity|0.37", "density", 1.17194, 2e-4, REL),
    ("air-density", "--temperature|22.3 °C|--pressure|748.1 mmHg|--humidity|37 %", "density", 1.17194, 2e-4, REL),
    # computed with CoolProp 8.0.0, HAPropsSI
    ("air-density", "--temperature|20 °C|--pressure|101325|--humidity|0", "density", 1.2046, 1.5e-4, REL),
    ("air-density", "--temperature|15 °C|--pressure|1050 mbar|--humidity|0.9", "density", 1.26304, 1.5e-4, REL),
    ("room-air", "--temperature|28 °C|--pressure|97 kPa|--humidity|45 %", "density", 1.11502, 1.5e-4, REL),
    ("room-air", "--temperature|22 °C|--pressure|992 hPa|--humidity|0.35", "density", 1.16719, 1.5e-4, REL),
    # Bird, Stewart and Lightfoot, Transport Phenomena, 2nd ed., Table 1.1-2 (read)
    ("air-viscosity", "--temperature|20 °C", "viscosity", 1.813e-5, 5e-4, REL),
    # US Standard Atmosphere 1976: in Mechanical Engineers' Handbook, vol. 4, table 6 (read); fluids 1.3.1
    ("pressure-at-altitude", "--altitude|2000 m", "pressure", 79500, 1e-4, REL),
    ("pressure-at-altitude", "--altitude|500", "pressure", 95461.29, 1e-6, REL),
    # imperial table of the same atmosphere (read); 6894.757 Pa to the psi, SP 811 (from memory)
    ("pressure-at-altitude", "--altitude|5000 ft", "pressure", 12.228 * 6894.757, 3e-4, REL),
    ("pressure-at-altitude", "--altitude|10000 ft", "pressure", 10.108 * 6894.757, 3e-4, REL),
    # a plate of 2.45 inH2O: CoolProp 8.0.0 densities, fluids 1.3.1 pressures; 249.08891 Pa to the inch
    (
        "plate-expected",
        "--own|2.45 inH2O|--mode|constant_volume|--temperature|20 °C|--pressure|83527.67 Pa|--humidity|0",
        "expected",
        2.0195 * 249.08891,
        0.5,
        "",
    ),
    (
        "plate-expected",
        "--own|2.45 inH2O|--mode|constant_volume|--temperature|35 °C|--pressure|101325|--humidity|80 %",
        "expected",
        2.2914 * 249.08891,
        0.5,
        "",
    ),
    # inch arithmetic, by the definition of cells per square inch
    ("brick-geometry", MIDDLE, "cells", 17318.0, 1e-5, REL),
    ("brick-geometry", MIDDLE, "open_fraction", 0.344694, 1e-5, REL),
    # scipy 1.17.1 solve_bvp of the channel equations
    ("clean-drop", AT_200, "drop", 289.302, 1e-5, REL),
    ("clean-drop", AT_200.replace("10.5 in", "9.5 in"), "drop", 353.414, 1e-5, REL),
    ("channel-drop", AT_200 + "|--density|1.2046", "drop", 290.891, 1e-3, REL),
    ("plug-ratio", MIDDLE + "|--permeability|5e-13|--fraction|0.1", "ratio", 1.0722, 5e-4, ""),
    ("plug-ratio", MIDDLE + "|--permeability|5e-13|--fraction|0.3333333333", "ratio", 1.2663, 5e-4, ""),
    ("mixed-ratio", MIDDLE + "|--permeability|5e-13|--fractions|0 0.5", "ratio", 1.1846, 1e-3, ""),
    # Konstandopoulos and Johnson, SAE 890405, its per-channel form (from memory), computed elsewhere
    ("closed-form-drop", AT_200, "drop", 297.386, 1e-4, REL),
    # scipy solve_bvp with textbook losses at the faces
    (
        "inertial-share",
        MIDDLE + "|--flow|400 cfm|--temperature|20 °C|--pressure|101325|--humidity|0",
        "share",
        0.0845,
        1e-4,
        "",
    ),
    # Newcombe, Statistics in Medicine 17 (1998) 857-872, Table I: method 3 (read), method 5 (from memory)
    ("wilson-interval", "--hits|15|--count|148", "low", 0.0624, 6e-5, ""),
    ("wilson-interval", "--hits|15|--count|148", "high", 0.1605, 6e-5, ""),
    ("wilson-interval", "--hits|0|--count|20", "high", 0.1611, 6e-5, ""),
    ("clopper-pearson-interval", "--hits|81|--count|263", "low", 0.2527, 6e-5, ""),
    ("clopper-pearson-interval", "--hits|0|--count|20", "high", 0.1684, 6e-5, ""),
    # computed with scipy 1.17.1 and statsmodels 0.15.0
    ("wilson-interval", "--hits|8|--count|24", "high", 0.532937, 2e-6, ""),
    ("clopper-pearson-interval", "--hits|8|--count|24", "high", 0.55322, 2e-6, ""),
    # NIST/SEMATECH e-Handbook 1.3.5.2 (read in public transcriptions)
    ("student-interval", "--mean|9.261460|--deviation|0.022789|--count|195", "low", 9.258242, 2e-6, ""),
    # closed form of the score interval; search on scipy's t interval
    ("cells-for-share", "--share|0.30|--limit|0.33333333333333333", "cells", 769, 0, ""),
    ("cells-for-mean", "--average|0.25|--deviation|0.2|--limit|0.33333333333333333", "cells", 25, 0, ""),
    # scipy 1.17.1 hypergeom and exact integers
    ("chance-all-missed", "--cells|8659|--bad|866|--probed|24", "chance", 0.079459, 1e-5, ""),
    # Montgomery & Runger, Table XII; Meeker, Hahn & Escobar, Table J.5b; ISO 16269-6 Annex F (read in a public test suite)
    ("one-sided-factor", FACTOR.format(10, 0.95, 0.95), "factor", 2.911, 6e-4, ""),
    ("two-sided-factor", FACTOR.format(8, 0.95, 0.95), "factor", 3.746, 6e-4, ""),
    ("two-sided-factor", FACTOR.format(15, 0.95, 0.9), "factor", 2.7196, 1.1e-4, ""),
    # NIST/SEMATECH e-Handbook 7.2.6.3 (page text read)
    ("howe-factor", FACTOR.format(43, 0.9, 0.99), "factor", 2.2173, 6e-5, ""),
    ("one-sided-factor", FACTOR.format(6, 0.9, 0.99), "factor", 4.4111, 6e-5, ""),
    # scipy 1.17.1, and mpmath 1.4.1's quadrature over Z
    ("noncentral-t-share", "--t|241|--freedom|30|--delta|240", "share", 0.478449402, 1e-9, ""),
    ("student-95", "--freedom|999", "t", 1.9623415, 1e-6, ""),
    # NIST/SEMATECH e-Handbook 6.3.2.2 (read in five public transcriptions)
    ("control-limits", "--readings|49.6 47.6 49.9 51.3 47.8 51.2 52.6 52.4 53.6 52.1", "high", 55.8041, 1e-4, ""),
    ("control-limits", "--readings|49.6 47.6 49.9 51.3 47.8 51.2 52.6 52.4 53.6 52.1", "low", 45.8159, 1e-4, ""),
    # JCGM 106:2012 clause 7, scipy 1.17.1; the clause's own example from memory
    ("conformance-probability", "--value|4.1|--u|0.12|--high|4.0", "probability", 0.202328, 2e-6, ""),
    ("conformance-probability", "--value|-5.47|--u|0.05|--high|-5.40", "probability", 0.92, 0.005, ""),
    # A = T - k u (algebra)
    ("guarded-end", "--low|0|--high|4.0|--u|0.12|--coverage|2", "guarded", 3.76, 1e-6, ""),
    # JCGM 100:2008 H.1 prints 32 nm from u² = 1002 nm² (read)
    ("combined-uncertainty", "--parts|25 5.8137767 3.8901699 6.6666667 2.8867873 16.5990271", "u", 31.66, 0.01, ""),
    # OIML R 76-1:2006 Table 6 and R 111-1:2004 Table 1 (read in public extracts); NIST Handbook 44 Table 6 (from memory);
    # 150 lb on a scale of 0.05 lb: 0.15 lb (read in a metrology forum's thread)
    ("scale-tolerance", "--rule|r76_initial|--class|II|--division|1 g|--load|30 kg", "limit", 1.5, 1e-9, ""),
    ("scale-tolerance", "--rule|hb44_maintenance|--class|III|--division|5 g|--load|20 kg", "limit", 15.0, 1e-9, ""),
    ("scale-tolerance", "--rule|hb44_maintenance|--class|III|--division|0.05 lb|--load|150 lb", "limit", 68.03886, 5e-6, ""),
    ("weight-tolerance", "--weights|20 kg|--class|M1", "limit", 1.0, 1e-9, ""),
    ("weight-tolerance", "--weights|5000|--class|F2", "limit", 0.08, 1e-9, ""),
    # mass balance, by arithmetic; geometry recomputed cell by cell
    ("expected-ash", "--oil|20 L|--density|0.85|--ash-percent|0.8|--reaching|0.8", "mid", 108.8, 1e-6, REL),
    ("plug-mass", "--share|0.3333333333333333|--inlet|5.8692782|--packing|0.3", "mass", 586.928, 1e-5, REL),
    # 0.05 % of the fuel, 150 000 mi at 6 mi/gal, by arithmetic
    ("oil-used", "--fuel|25000 gal|--oil-share-of-fuel|0.05 %", "oil", 47.3176, 1e-6, REL),
    # ISO/IEC 7064 (cited from memory; python-stdnum 2.2 computes the same)
    ("tag-check-characters", "--body|794", "check", "44", 0, ""),
]
