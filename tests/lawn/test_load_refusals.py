from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.errors import AdvisorError, InputError, ManyProblems, QuantityError
from advisor.lawn.load import load_site, read_site
from advisor.lawn.tables import turf_table

LARK = Path(__file__).with_name("lark.yaml").read_text(encoding="utf-8")
HERE = Path("lark.yaml")


def _with(old: str, new: str, text: str = LARK) -> str:
    assert old in text, old
    return text.replace(old, new, 1)


def _sentence(text: str) -> str:
    with pytest.raises(AdvisorError) as caught:
        read_site(text, HERE)
    return str(caught.value)


WRONG = {
    "a bare number": (
        ("area: 2,400 sq ft", "area: 2400"),
        'lark.yaml:14: zones[Front].area: an area needs its unit; found \'2400\'; allowed: "465 m2", "5,000 sq ft"',
    ),
    "an unknown key": (
        ("uniformity: 68 %", "uniformty: 68 %"),
        "lark.yaml:21: zones[Front].uniformty is not a known key; allowed: did you mean 'uniformity'? One of name, "
        "area, grass, soil, slope, exposure, root_depth, head, rate, uniformity, first_puddle, allowed_depletion, "
        "mode, mode_until, by_hand, flow",
    ),
    "an unknown section": (
        ("decision:", "decison:"),
        "lark.yaml:114: decison is not a known section; allowed: did you mean 'decision'? One of site, watering, "
        "supply, decision, weather, zones, equipment, products, rounds, records, service, messages",
    ),
    "a missing key": (
        ("    slope: 3 %\n", ""),
        "lark.yaml:13: zones[Front].slope is missing; allowed: slope: 3 %",
    ),
    "an empty key": (
        ("elevation: 381 m", "elevation:"),
        'lark.yaml:6: site.elevation: a length is asked here; found nothing; allowed: "0.2 m", "8 in", "1250 ft"',
    ),
    "an area too large": (
        ("area: 2,400 sq ft", "area: 60,000 m2"),
        "lark.yaml:14: zones[Front].area: an area no lawn zone has; found '60,000 m2'; "
        "allowed: 0.10 m2 to 50,000 m2",
    ),
    "no area": (
        ("area: 2,400 sq ft", "area: 0 sq ft"),
        "lark.yaml:14: zones[Front].area: an area no lawn zone has; found '0 sq ft'; "
        "allowed: 0.10 m2 to 50,000 m2",
    ),
    "a rate no sprinkler has": (
        ("measured: 0.52 in/h", "measured: 12 in/h"),
        "lark.yaml:20: zones[Front].rate.measured: a rate no sprinkler has; found '12 in/h'; "
        "allowed: 1 mm/h to 200 mm/h",
    ),
    "a flow that does not fit its area": (
        ("flow: 9.5 gal/min", "flow: 95 gal/min"),
        "lark.yaml:39: zones[Side].rate: flow over area is a rate no sprinkler has; found 362.89 mm/h; "
        "allowed: 1 mm/h to 200 mm/h",
    ),
    "a rate that is neither": (
        ("rate: guess", "rate: 0.5 in/h"),
        "lark.yaml:30: zones[Back].rate: a rate is measured, by flow or a guess; found '0.5 in/h'; "
        "allowed: {measured: 0.5 in/h, on: 2026-05-02}, {flow: 6 gal/min} or guess",
    ),
    "a guess without a head": (
        ("    head: gear rotor\n    rate: guess", "    rate: guess"),
        "lark.yaml:29: zones[Back].rate: a guessed rate needs the head type; found no head; allowed: head: gear rotor",
    ),
    "no evenness without a head": (
        ("    head: fixed spray\n", ""),
        "lark.yaml:32: zones[Side].uniformity: without a head type the distribution uniformity must be said; "
        "found neither; allowed: uniformity: 65 %, or head: gear rotor",
    ),
    "a slope too steep": (
        ("slope: 3 %", "slope: 70 %"),
        "lark.yaml:17: zones[Front].slope: a slope no lawn is watered on; found '70 %'; allowed: 0 % to 60 %",
    ),
    "an evenness too low": (
        ("uniformity: 68 %", "uniformity: 5 %"),
        "lark.yaml:21: zones[Front].uniformity: an evenness no sprinkler has; found '5 %'; allowed: 10 % to 100 %",
    ),
    "roots too deep": (
        ("uniformity: 68 %", "root_depth: 3 m"),
        "lark.yaml:21: zones[Front].root_depth: a depth no turf roots to; found '3 m'; allowed: 0.02 m to 2 m",
    ),
    "latitude and longitude swapped": (
        ("latitude: 40.52\n  longitude: -96.74", "latitude: -96.74\n  longitude: -96.74"),
        "lark.yaml:4: site.latitude: a latitude is beyond the poles (are latitude and longitude swapped?); "
        "found -96.74; allowed: -90 to 90",
    ),
    "a longitude off the globe": (
        ("longitude: -96.74", "longitude: 196.74"),
        "lark.yaml:5: site.longitude: a longitude in degrees, west negative, is out of range; found '196.74'; "
        "allowed: -180 to 180",
    ),
    "a longitude of the wrong sign": (
        ("longitude: -96.74", "longitude: 96.74"),
        "lark.yaml:7: site.time_zone: the time zone is 12 h from the sun at the longitude 96.74; "
        "found 'America/Chicago'; allowed: a zone within 5 h of the sun there, or is the sign wrong? East is "
        "positive: -96.74",
    ),
    "a latitude with its letter": (
        ("latitude: 40.52", "latitude: 40.52 N"),
        "lark.yaml:4: site.latitude: a latitude is a plain number of degrees, south negative; found '40.52 N'; "
        "allowed: -90 to 90, such as -42.88",
    ),
    "an elevation too high": (
        ("elevation: 381 m", "elevation: 9000 m"),
        "lark.yaml:6: site.elevation: an elevation no lawn has; found '9000 m'; allowed: -430 m to 5,000 m",
    ),
    "an unknown time zone": (
        ("America/Chicago", "America/Chicgo"),
        "lark.yaml:7: site.time_zone: the time zone is not known; found 'America/Chicgo'; allowed: did you mean "
        "'America/Chicago'? An IANA name such as America/Chicago or Europe/Lisbon",
    ),
    "unknown units": (
        ("units: us", "units: imperial"),
        "lark.yaml:8: site.units: units is not known; found 'imperial'; allowed: one of metric, us",
    ),
    "a country that is no code": (
        ("country: US", "country: USA"),
        "lark.yaml:9: site.country: a country is two letters; found 'USA'; allowed: an ISO 3166 code: US",
    ),
    "an unknown grass": (
        ("grass: kentucky bluegrass", "grass: kentucky blue"),
        "lark.yaml:43: zones[Bank].grass: the grass is not known; found 'kentucky blue'; allowed: did you mean "
        f"'kentucky bluegrass'? One of {', '.join(turf_table())}",
    ),
    "an unknown soil": (
        ("soil: silty clay loam", "soil: mud"),
        "lark.yaml:16: zones[Front].soil: the soil texture is not known; found 'mud'; allowed: one of sand, "
        "loamy sand, sandy loam, loam, silt loam, silt, sandy clay loam, clay loam, silty clay loam, sandy clay, "
        "silty clay, clay",
    ),
    "an unknown head": (
        ("head: gear rotor", "head: rotor"),
        "lark.yaml:19: zones[Front].head: the head type is not known; found 'rotor'; allowed: did you mean "
        "'gear rotor'? One of fixed spray, multi-stream rotating, gear rotor, impact, hose-end oscillating, drip",
    ),
    "a zone twice": (
        ("name: Back\n", "name: front\n"),
        "lark.yaml:23: zones[front].name stands twice (capitals do not matter); found 'front' again after line 13; "
        "allowed: a name of its own",
    ),
    "a zone that is not there": (
        ("    sprayer: Backpack", "    zones: [Frnt]"),
        "lark.yaml:112: rounds[Summer soil round].zones[1] is not a name under zones; found 'Frnt'; "
        "allowed: did you mean 'Front'? One of Front, Back, Side, Bank",
    ),
    "a product that is not there": (
        ("diluted: [Potash solution]", "diluted: [Potash soluton]"),
        "lark.yaml:88: products[Calcium solution].not_together_diluted[1] is not a name under products; "
        "found 'Potash soluton'; allowed: did you mean 'Potash solution'? One of Wetting agent, Potash solution, "
        "Calcium solution, Iron foliar, Autumn granules, Weed spray, Grub granules",
    ),
    "a sprayer that is not there": (
        ("sprayer: Backpack", "sprayer: Bckpack"),
        "lark.yaml:112: rounds[Summer soil round].sprayer is not a name under equipment; found 'Bckpack'; "
        "allowed: did you mean 'Backpack'? One of Backpack, Hose-end sprayer, Spreader",
    ),
    "hours not understood": (
        ("21:00-08:00", "9pm to 8am"),
        "lark.yaml:52: watering.hours[1]: a span of hours is not understood; found '9pm to 8am'; "
        'allowed: "21:00-08:00" (24 hours; the second may be after midnight)',
    ),
    "an hour that is not there": (
        ("21:00-08:00", "25:00-08:00"),
        "lark.yaml:52: watering.hours[1]: there is no such time of day; found '25:00-08:00'; "
        'allowed: "21:00-08:00" (24 hours; the second may be after midnight)',
    ),
    "hours of no length": (
        ("21:00-08:00", "08:00-08:00"),
        "lark.yaml:52: watering.hours[1]: the span begins and ends at the same time; found '08:00-08:00'; "
        'allowed: "00:00-24:00" for the whole day',
    ),
    "hours that overlap": (
        ("21:00-08:00", "[21:00-01:00, 00:30-08:00]"),
        "lark.yaml:52: watering.hours: spans of hours overlap; found 00:30-08:00; allowed: spans apart",
    ),
    "no hours": (
        ("21:00-08:00", "[]"),
        "lark.yaml:52: watering.hours: at least one entry is asked here; found an empty list; "
        "allowed: a list such as [a, b]",
    ),
    "an unknown weekday": (
        ("finish_by: sunrise", "weekdays: [mon, wensday]"),
        "lark.yaml:53: watering.weekdays[2]: the weekday is not known; found 'wensday'; allowed: did you mean "
        "'wednesday'? One of monday, tuesday, wednesday, thursday, friday, saturday, sunday",
    ),
    "neither odd nor even": (
        ("finish_by: sunrise", "dates: ood"),
        "lark.yaml:53: watering.dates: dates is not known; found 'ood'; allowed: did you mean 'odd'? "
        "One of any, odd, even",
    ),
    "a day that is not there": (
        ("finish_by: sunrise", "blackout: [{from: 2026-02-30, to: 2026-03-01}]"),
        "lark.yaml:53: watering.blackout[1].from: a date is not understood; found '2026-02-30'; "
        "allowed: 2026-05-02",
    ),
    "a blackout backwards": (
        ("finish_by: sunrise", "blackout: [{from: 2026-03-02, to: 2026-03-01}]"),
        "lark.yaml:53: watering.blackout[1].to: the last day is before the first; found 2026-03-01; "
        "allowed: 2026-03-02 or later",
    ),
    "a mode without an end": (
        ("rate: guess", "rate: guess\n    mode: seed"),
        "lark.yaml:23: zones[Back].mode_until: the mode 'seed' needs its last day; found none; allowed: 2026-09-30",
    ),
    "neither true nor false": (
        ("rate: guess", "rate: guess\n    by_hand: maybe"),
        "lark.yaml:31: zones[Back].by_hand: true or false is not known; found 'maybe'; "
        "allowed: one of true, false, yes, no",
    ),
    "an unknown product kind": (
        ("kind: foliar-liquid", "kind: foliar"),
        "lark.yaml:91: products[Iron foliar].kind: the product kind is not known; found 'foliar'; allowed: did you "
        "mean 'foliar-liquid'? One of soil-liquid, foliar-liquid, granular-quick, granular-slow, pre-emergent, "
        "post-emergent-liquid, post-emergent-granular, soil-insecticide, root-zone-fungicide, foliar-fungicide, "
        "wetting-agent, seed",
    ),
    "a granule's rate on a liquid": (
        ("rate: 2.5 fl oz/1000 sq ft", "rate: 2 lb/1000 sq ft"),
        "lark.yaml:92: products[Iron foliar].rate: a liquid's rate cannot be given in 'lb/1000 sq ft'; "
        'found \'2 lb/1000 sq ft\'; allowed: "1 mL/m2", "4 fl oz/1000 sq ft"',
    ),
    "minutes of no sprinkler": (
        ("    kind: foliar-liquid\n", "    kind: foliar-liquid\n    label_minutes: 10 min\n"),
        "lark.yaml:90: products[Iron foliar].label_sprinkler: minutes on a label need the sprinkler they were meant "
        "for, because a minute is not a depth; found label_minutes alone; "
        "allowed: label_sprinkler: fixed spray, or 1.5 in/h",
    ),
    "a section that is a word": (
        ("supply:\n  flow: 12 gal/min", "supply: 12 gal/min"),
        "lark.yaml:55: supply is not understood; found '12 gal/min'; allowed: a mapping of flow, water_cost_per_m3",
    ),
    "a cost of no name": (
        ("dial: balanced", "costs: {shortfal: 2}"),
        "lark.yaml:115: decision.costs.shortfal: the cost is not known; found 'shortfal'; allowed: did you mean "
        "'shortfall'? One of shortfall, loss, water, run, look, stress",
    ),
    "weather refused too early": (
        ("records:", "weather: {warn_after: 3 h, refuse_after: 2 h}\nrecords:"),
        "lark.yaml:117: weather.refuse_after: weather would be refused before it is warned about; found 2 h; "
        "allowed: warn_after (3 h) or more",
    ),
    "an unknown weather source": (
        ("records:", "weather: {sources: [open-metoe]}\nrecords:"),
        "lark.yaml:117: weather.sources[1]: the weather source is not known; found 'open-metoe'; allowed: did you "
        "mean 'open_meteo'? One of open_meteo, met_norway, nws",
    ),
    "an address of no service": (
        ("records:", "weather: {base_urls: {open_metoe: http://127.0.0.1:80, nws: ftp://x}}\nrecords:"),
        "lark.yaml:117: weather.base_urls.open_metoe: the service is not known; found 'open_metoe'; allowed: did "
        "you mean 'open_meteo'? One of open_meteo, open_meteo_ensemble, open_meteo_archive, met_norway, nws\n"
        "lark.yaml:117: weather.base_urls.nws: an address begins with http; found 'ftp://x'; "
        "allowed: https://host",
    ),
    "a key twice": (
        ("  units: us\n", "  units: us\n  name: Other\n"),
        "lark.yaml:9: the key 'name' stands twice; found again after line 3; allowed: each once",
    ),
    "an anchor": (
        ("grass: tall fescue", "grass: &g tall fescue"),
        "lark.yaml:15: anchors and aliases are not used here; found &g; allowed: the value",
    ),
    "a tag": (
        ("grass: tall fescue", "grass: !x tall fescue"),
        "lark.yaml:15: tags are not used here; found !x; allowed: the plain value",
    ),
    "a tab": (
        ("  name: Larkmoor", "\tname: Larkmoor"),
        "lark.yaml:3: a tab stands in the indentation; allowed: spaces",
    ),
    "a colon too many": (
        ("units: us", "units: us: x"),
        "lark.yaml:8: this is not YAML: mapping values are not allowed here",
    ),
}


@pytest.mark.parametrize(("change", "sentence"), WRONG.values(), ids=list(WRONG))
def test_what_is_wrong_is_told_with_file_line_found_and_allowed(
    change: tuple[str, str], sentence: str
) -> None:
    assert _sentence(_with(*change)) == sentence


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "lark.yaml: the file is empty; allowed: `advisor init` writes one, --site names another"),
        (
            "# words\n",
            "lark.yaml: the file is empty; allowed: `advisor init` writes one, --site names another",
        ),
        (
            "just words",
            "lark.yaml:1: the file is not a site file; found 'just words'; "
            "allowed: sections such as site:, zones: and watering:",
        ),
        (
            "- a\n",
            "lark.yaml:1: the file is not a site file; found a list of 1; "
            "allowed: sections such as site:, zones: and watering:",
        ),
        (
            "a: 1\n---\nb: 2\n",
            "lark.yaml:2: this is not YAML: expected a single document in the stream but found another document",
        ),
        (
            "[" * 5000,
            "lark.yaml:1: the file is nested too deep; found more than 20 levels; allowed: the keys shown",
        ),
        (
            "a: 1\n" * 5000,
            "lark.yaml:5000: the file holds more than any lawn has; found more than 10,000 keys and values by this line; "
            "allowed: the keys shown",
        ),
        (
            f"a: *{'b' * 300}\n",
            f"lark.yaml:1: this is not YAML: found undefined alias '{'b' * 174}...",
        ),
    ],
    ids=[
        "empty",
        "comments only",
        "a word",
        "a list",
        "two documents",
        "too deep",
        "too much",
        "a long word",
    ],
)
def test_a_file_that_is_no_site_file_is_told_in_one_sentence(text: str, sentence: str) -> None:
    assert _sentence(text) == sentence


def test_all_sections_missing_are_all_told() -> None:
    lines = _sentence("supply: {flow: 12 gal/min}\n").splitlines()
    assert [line.split(";")[0] for line in lines] == [
        "lark.yaml:1: site is missing",
        "lark.yaml:1: zones is missing",
        "lark.yaml:1: watering is missing",
    ]


def test_every_problem_is_told_at_once_in_the_order_of_the_lines() -> None:
    text = LARK
    for old, new in (
        ("latitude: 40.52", "latitude: 140.52"),
        ("area: 2,400 sq ft", "area: 2400"),
        ("rate: guess", "rte: guess"),
        ("soil: clay loam", "soil: clay lome"),
        ("finish_by: sunrise", "finish_by: dawn"),
        ("method: spreader", "method: spreder"),
        ("stock: 1 gal", "stock: 1"),
        ("sprayer: Backpack", "sprayer: Knapsack"),
        ("dial: balanced", "dial: bold"),
    ):
        text = _with(old, new, text)
    with pytest.raises(ManyProblems) as caught:
        read_site(text, HERE)
    lines = [problem.line for problem in caught.value.problems]
    assert lines == sorted(lines, key=lambda line: line or 0)
    assert [str(problem).split(":")[2].split(" is ")[0].strip() for problem in caught.value.problems] == [
        "site.latitude",
        "zones[Front].area",
        "zones[Back].rate",
        "zones[Back].rte",
        "zones[Bank].soil",
        "watering.finish_by",
        "equipment[Spreader].method",
        "products[Iron foliar].stock",
        "rounds[Summer soil round].sprayer",
        "decision.dial",
    ]
    assert isinstance(caught.value.problems[1], QuantityError)


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (
            b"site:\n  name: \xff\xfe\n",
            "{}:2: this is not text in UTF-8; found the byte 0xff; allowed: a YAML file saved as UTF-8",
        ),
        (b"a: \x00\x01", "{}: this is not a text file that YAML allows; found "),
        (b"#" * 250_001, "{}: the file is too large; allowed: at most 250 kB of text"),
    ],
    ids=["not UTF-8", "binary", "too large"],
)
def test_a_file_that_is_not_text_is_told_in_one_sentence(
    tmp_path: Path, content: bytes, sentence: str
) -> None:
    path = tmp_path / "lark.yaml"
    path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        load_site(path)
    assert str(caught.value).startswith(sentence.format(path))


def test_a_missing_file_tells_the_way_out(tmp_path: Path) -> None:
    path = tmp_path / "lark.yaml"
    with pytest.raises(InputError) as caught:
        load_site(path)
    assert str(caught.value) == (
        f"{path}: there is no such file; allowed: `advisor init` writes one, --site names another"
    )


def _at(zone: str, longitude: float) -> str:
    return _with("-96.74", f"{longitude:g}", _with("America/Chicago", zone))


@pytest.mark.parametrize(
    ("zone", "longitude"),
    [
        ("Pacific/Kiritimati", -157.4),
        ("Pacific/Chatham", -176.5),
        ("Asia/Anadyr", -169.0),
        ("America/Adak", 172.9),
        ("Pacific/Tongatapu", -175.2),
        ("Asia/Shanghai", 76.0),
        ("Australia/Hobart", 147.33),
    ],
)
def test_a_clock_that_is_kept_there_is_let_pass(zone: str, longitude: float) -> None:
    assert read_site(_at(zone, longitude), HERE).place.zone.key == zone


@pytest.mark.parametrize(
    ("zone", "longitude"),
    [
        ("Australia/Hobart", -147.33),
        ("Australia/Sydney", -151.2),
        ("Australia/Perth", -115.9),
        ("Australia/Lord_Howe", -159.1),
        ("Pacific/Honolulu", 157.9),
        ("America/New_York", 74.0),
    ],
)
def test_a_longitude_of_the_wrong_sign_is_refused_with_the_right_one(zone: str, longitude: float) -> None:
    sentence = _sentence(_at(zone, longitude))
    assert f"sun at the longitude {longitude:g}; found {zone!r}" in sentence
    assert sentence.endswith(f"is the sign wrong? East is positive: {-longitude:g}")


def test_a_part_of_a_name_is_met_with_the_whole_one() -> None:
    sentence = _sentence(_with("grass: tall fescue", "grass: ryegrass"))
    assert "allowed: did you mean 'perennial ryegrass'? One of" in sentence


def test_a_folder_is_not_a_site_file(tmp_path: Path) -> None:
    with pytest.raises(
        InputError, match=r"the file cannot be read \(is a directory\); allowed: `advisor init`"
    ):
        load_site(tmp_path)


LINES = LARK.splitlines()
SCRAPS = st.one_of(
    st.sampled_from(
        [
            "",
            "x",
            "- ",
            "[]",
            "{}",
            "~",
            "1",
            "-1 mm",
            "9" * 400,
            "a: b",
            "\t",
            "'",
            '"\\ud800"',
            "!!x",
            "nan",
            "1e9 in",
        ]
    ),
    st.text(max_size=12),
)


@settings(max_examples=60, deadline=None)
@given(index=st.integers(0, len(LINES) - 1), scrap=SCRAPS, keep=st.booleans())
def test_a_spoilt_line_gives_a_site_or_sentences_and_never_a_traceback(
    index: int, scrap: str, keep: bool
) -> None:
    head = LINES[index].split(":")[0] + ": " if keep else ""
    text = "\n".join([*LINES[:index], head + scrap, *LINES[index + 1 :]])
    try:
        read_site(text, HERE)
    except AdvisorError as error:
        told = str(error)
    else:
        told = "lark.yaml is understood"
    assert told.encode().startswith(b"lark.yaml")
