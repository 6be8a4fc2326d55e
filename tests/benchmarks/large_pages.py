"""The addresses of every page that a visitor can open, for the large catalogue of `large.py`."""

CLAIM, STUDY = "claim-00100", "study-00100"
_PAGES = """
/ /history /catalogue /catalogue/check /catalogue/backup /catalogue/export /words /words?words=squat
/claims /claims?page=20 /claims?words=squat /claims?region=hamstrings&confidence=low /claims/new /claims/add
/claims/{CLAIM} /claims/{CLAIM}/forest.svg /claims/{CLAIM}/studies.csv /claims/{CLAIM}/edit
/claims/{CLAIM}/brief.html /claims/{CLAIM}/brief.pdf /claims/seated-curl-growth
/studies /studies?page=50 /studies?words=squat&page=3 /studies/new /studies/{STUDY} /studies/{STUDY}/file
/studies/{STUDY}/edit /studies/{STUDY}/table /studies/{STUDY}/bias
/references /references?page=1000 /references?words=squat /references?words=imagined /references/fictional99
/references/add /references/type /references/duplicates /references/notices /references/to-mend
/regions /regions/hamstrings /regions/hamstrings/ranking /regions/hamstrings/ranking?outcome=hypertrophy
/regions/hamstrings/ranking.svg /regions/hamstrings/ranking.csv /exercises /exercises/seated_leg_curl
/changes /changes/notes.html /published /review /reading-list /reading-list/whole /find?q=leg+curl /find?q=imagined
/drafts /drafts/curl-article /programmes /programmes/two-days
"""


def pages_of() -> list[str]:
    """Every page that a visitor can open."""
    return _PAGES.format(CLAIM=CLAIM, STUDY=STUDY).split()
