"""How far two lists of authors are apart; order, initials, accents and lists cut short cost little."""

from functools import lru_cache

from rapidfuzz import fuzz

from references.profiles import Profile


def compare_authors(a: Profile, b: Profile) -> tuple[float, str]:
    """(amount from 0 to 1, reason) for two profiles that both have authors."""
    short, long = (a, b) if len(a.surnames) <= len(b.surnames) else (b, a)
    pairs, missing = _pair_names(short, long)
    if not pairs:
        return 1.0, f"{short.surnames[0]} / {long.surnames[0]}: no author in common"
    amount = len(missing) / len(short.surnames)
    reasons = [f"not in both: {', '.join(short.surnames[index] for index in missing)}"] if missing else []
    extra = len(long.surnames) - len(short.surnames)
    if extra and not short.cut_authors:
        leading = all(one == other for one, other in pairs)
        amount += (0.15 if leading else 0.4) * extra / len(long.surnames)
        reasons.append(f"{extra} more in one list")
    clashing = [
        short.surnames[one]
        for one, other in pairs
        if short.initials[one] and long.initials[other] and short.initials[one] != long.initials[other]
    ]
    if clashing:
        amount += 0.6 * len(clashing) / len(pairs)
        reasons.append(f"other initials: {', '.join(clashing)}")
    return min(1.0, amount), "; ".join(reasons)


def _pair_names(short: Profile, long: Profile) -> tuple[list[tuple[int, int]], list[int]]:
    """Index pairs of like surnames, and the indices of the shorter list that found no partner."""
    if short.surnames == long.surnames[: len(short.surnames)] and len(set(long.surnames)) == len(
        long.surnames
    ):
        return [(index, index) for index in range(len(short.surnames))], []
    free = dict.fromkeys(range(len(long.surnames)))
    pairs: list[tuple[int, int]] = []
    unpaired: list[int] = []
    for index, name in enumerate(short.surnames):
        equal = [other for other in free if long.surnames[other] == name]
        if not equal:
            unpaired.append(index)
            continue
        # of two people with one surname, the one with the same initial
        alike = [other for other in equal if long.initials[other] == short.initials[index]]
        found = (alike or equal)[0]
        del free[found]
        pairs.append((index, found))
    missing: list[int] = []
    for index in unpaired:
        like = next(
            (other for other in free if are_one_surname(short.surnames[index], long.surnames[other])), None
        )
        if like is None:
            missing.append(index)
        else:
            del free[like]
            pairs.append((index, like))
    return pairs, missing


@lru_cache(maxsize=65536)
def are_one_surname(a: str, b: str) -> bool:
    """Whether two folded names are one surname: spelt alike, double-barrelled in one, or with given names."""
    if a[:1] != b[:1] and a[-1:] != b[-1:] and " " not in a + b:
        return False  # two single words that neither begin nor end alike
    if a == b or a.replace(" ", "") == b.replace(" ", ""):
        return True
    limit = 86 if min(len(a), len(b)) < 6 else 80
    if fuzz.ratio(a, b) >= limit:
        return True
    if " " not in a + b:
        return False
    words_a = {word for word in a.split() if len(word) > 2}
    words_b = {word for word in b.split() if len(word) > 2}
    contained = bool(words_a and words_b) and (words_a <= words_b or words_b <= words_a)
    return contained and len(words_a | words_b) < 5
