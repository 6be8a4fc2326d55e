"""How numbers are told in a sentence: the forms that `numbers.py` looks for, in digits and in words."""

import re

SMALL = (
    "zero|one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|thirteen|fourteen|fifteen|sixteen|seventeen|"
    "eighteen|nineteen|twenty|thirty|forty|fifty|sixty|seventy|eighty|ninety"
)
WORDED = (
    rf"(?:a hundred(?: and(?= (?:{SMALL})\b))?|{SMALL})(?:[- ](?:hundred(?: and)?|{SMALL})){{0,5}}"
    rf"(?: and a half| point(?:[- ](?:{SMALL})){{1,5}})?"
)
DIGITS = r"[-−+]?\d+(?:[.,]\d+)?"
NUMBER = rf"(?P<number>(?<![\w.,])(?:{DIGITS}|\b{WORDED}\b))"
ANY = re.compile(rf"\d|\b(?:{SMALL}|hundred)\b", re.IGNORECASE)
PERCENT = re.compile(rf"{NUMBER}(?:\s*%|[ -]?(?:per[- ]?cents?|percents?)\b)(?![- ]points?\b)", re.IGNORECASE)
PEOPLE = re.compile(
    rf"{NUMBER}[ -](?:(?!per |in |of |out |times |and |legs?\b|arms?\b|\d|(?:{SMALL})\b)[\w-]+ ){{0,3}}?"
    r"(?P<noun>people|men|women|lifters|adults|participants|subjects|footballers|players|athletes|lads|girls|boys"
    r"|volunteers|students)\b",
    re.IGNORECASE,
)
RATE = re.compile(
    rf"{NUMBER}(?: [\w-]+){{0,3}} (?:in|out of|per) (?:a|one|every)? ?(?:hundred|100)\b", re.IGNORECASE
)
UNIT = re.compile(
    rf"{NUMBER}(?:\s?(?P<unit>mm|cm2|cm²|cm3|cm³|cm|kg|Nm?)"
    r"| (?P<worded>kilos?|kilograms?|kilogrammes?|centimet(?:re|er)s?|millimet(?:re|er)s?|newtons?)"
    rf"|\s?(?P<points>(?:(?:percentage|%|per ?cent)[- ])?points?)(?! (?:{SMALL})\b))(?!\w)"
)
UNITS_IN_WORDS = {"kil": "kg", "cen": "cm", "mil": "mm", "new": "N"}  # by how they begin
EVENTS = re.compile(
    rf"{NUMBER}[ -](?:(?!per |in |of |out |times |and |fewer |more |less )[\w-]+ ){{0,2}}?"
    r"(?:injur(?:y|ies)|strains?|tears|ruptures)\b",
    re.IGNORECASE,
)
EVENTS_AMONG = re.compile(rf"{NUMBER}(?= (?:among|amongst|in|of|out of) (?:the )?\d+\b)", re.IGNORECASE)
READING = re.compile(
    r"(?:its|their|reads?|reading|hits?|got|at|thrusts?|squats?|step-ups?|deadlifts?|nordics?|lunges?|curls?|press(?:es)?"
    r"|raises?|extensions?|bridges?|against|to|and|with a pause"
    rf"|then \w+|past|(?<=:))\s{NUMBER}(?!\w|\.\d|\s?(?:%|per|x|×|kg|weeks?|sets?|reps?|sessions?|min|s\b))",
    re.IGNORECASE,
)
EXCLUDED = re.compile(
    r"^\s*(?:%|per ?cent|percent)?\s*(?:(?:of )?(?:your |the |his |her |a )?(?:\w+ )?"
    r"(?:1 ?-?RM|max|maximum|body ?-?weight)"
    r"|(?:raises?|builds?|grows?|beats?|works?|does|gives?|moves?|drives?|is (?:better|worse)) .{0,40}\bthan\b"
    r"|confidence|interval|CI\b|of (?:people|the time|your|cases|all))",
    re.IGNORECASE,
)
EFFECT = re.compile(
    rf"\b(?:effect size|SMD|standardi[sz]ed (?:mean )?difference|Hedges['’]? g|Cohen['’]s d|(?-i:[dg])(?= ?=))"
    rf"(?: (?:of|was|is|at|came out at|about|around|roughly))*\s?[=:]?\s?{NUMBER}(?![\w%]|\s?(?:per ?cent|percent))",
    re.IGNORECASE,
)
IN_SDS = re.compile(rf"{NUMBER} (?:pooled )?(?:standard deviations?|SDs?)\b", re.IGNORECASE)
CORRELATION = re.compile(rf"\b(?:r|correlation)(?: (?:of|was|is))?\s?=?\s?{NUMBER}(?![\w%])")
MOVED_BY = re.compile(
    rf"\b(?:fell|rose|dropped|went (?:up|down)|eased|improved|climbed|moved) by {NUMBER}(?= (?:with|in|for|on|after)\b)"
    rf"(?:[^,.;]{{1,40}} and (?:by )?(?P<second>{DIGITS})(?= (?:with|in|for|on|after)\b))?"
)
LOAD_SAID = re.compile(
    r"\b(?:loads?|lifting|train(?:ing)? at|1 ?-?RM|one-rep max|intensit(?:y|ies)|heavy|light)\b",
    re.IGNORECASE,
)
LOAD_BEFORE = re.compile(
    r"(?:\bloads? (?:of|at|above|over|under|below|around|near|from|up to)"
    r"|\b(?:work|train|lift)(?:ing|s)? (?:at|with|above|over|under|below|around))"
    rf"(?: (?:about|around|roughly|some))? (?:{DIGITS}\s?(?:%|per ?cent)?\s?(?:-|–|to|and) ?)?$",
    re.IGNORECASE,
)
AGE_BEFORE = re.compile(r"\b(?:under|over|past|below|above|aged?|U)[- ]?$", re.IGNORECASE)  # under-14 girls
CHANGED = re.compile(
    r"\b(?:gained|grew|rose|improved|up|added|put on|increased|went up)(?: by)?(?: (?:about|around|roughly))? $",
    re.IGNORECASE,
)
BOUND_BEFORE = re.compile(
    rf"\b(?:interval|CI|limits|range)\b[^.;]{{0,12}}?{DIGITS}\s?%?,? (?:to|and) $", re.IGNORECASE
)
INJURIES = re.compile(r"\b(?:injur(?:y|ies)|strains|tears|ruptures)\b", re.IGNORECASE)
AFTER_PERCENT = re.compile(
    r"(?:(?: |, |; |: | for [\w -]{1,30}, )(?:(?!of|for|x|weeks)[\w'’-]+ ){0,6}?)"
    r"(?:to |against |versus |and |for |at |in |lying |plus |down to |only |just )?"
    rf"{NUMBER}(?=(?: for [\w -]+| in favour\b[^.]*| with [\w -]+| for one)?\s*(?:[.,;()\[](?!\d)|$|and\b))",
    re.IGNORECASE,
)
AFTER_UNIT = re.compile(
    r"(?: (?:on|in|for|with|to|of) [\w '’-]{1,30}?)?(?:,? (?:and|against|versus|vs\.?|v|but|while|whereas|to)|,)"
    r"(?: (?!after|in|over|for|weeks?|months?|sets?|reps?|days?|sessions?|people|aged?|table|figure|page)[\w'’-]+){0,4}"
    rf" {NUMBER}(?=[.,;)\]]?(?: in | on | for | with |\s*$|[.;)] ))",
    re.IGNORECASE,
)
KINDS = (
    ("per_hundred", RATE),
    ("effect", EFFECT),
    ("effect", IN_SDS),
    ("correlation", CORRELATION),
    ("percent", PERCENT),
    ("unit", UNIT),
    ("people", PEOPLE),
    ("events", EVENTS),
    ("reading", READING),
    ("moved", MOVED_BY),
)
BEFORE_PERCENT = re.compile(
    rf"{NUMBER} (?:versus|against|to|and|or|v|vs\.?|than|instead of|rather than|over|where) $"
)
TOLD_AS_PAIR = re.compile(  # "by 6.1 per cent, 10.7 to 4.6"
    rf"(?:, | \(|: )(?P<number>{DIGITS}) (?:to|against|versus|vs\.?|v) "
    rf"(?P<other>{DIGITS})(?=[,.;)]?(?: |$))(?! ?kg)"
)
LISTED_BEFORE = re.compile(  # "standing 11.0, seated 2.4 per cent"
    rf"(?<=[a-z]) (?P<number>{DIGITS}), (?:and )?"
    r"(?:(?!(?:by|was|were|is|are|of|to|in|at|for|gains?)\b)[a-z-]+ ){1,2}$"
)
