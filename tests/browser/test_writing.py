"""What goes out, and what comes in, in a real browser: a programme, a draft, references with a duplicate."""

PROGRAMME = (
    "Two days, legs\n\nDay 1\nSeated leg curl 3x10\nRomanian deadlift 3x8\n\nDay 2\nLying leg curl 3x12\n"
)
DRAFT = (
    "# Curls\n\nSeated leg curls activate the hamstrings 90 % more than lying leg curls in trained people.\n"
)
ENTRY = (
    "@article{%s, title={Foot position in the calf raise and its marks on the soleus}, "
    "author={Crane, A and Dock, B}, journal={%s}, year={%s}}\n"
)


def test_a_programme_gets_its_evidence_and_is_handed_out(site, visit):
    page = visit(site, "/programmes")
    page.locator("#name").fill("legs")
    page.locator("#text").fill(PROGRAMME)
    page.get_by_role("button", name="Bring it in").click()
    page.get_by_role("status").get_by_text("Stored:").wait_for()
    assert page.get_by_role("heading", name="Day 1").count() == 1 or page.get_by_text("Day 1").count() > 0
    page.get_by_text("Edit the programme").click()
    page.locator("#text").fill(PROGRAMME.replace("3x12", "4x12"))
    page.get_by_role("button", name="Store").click()
    page.get_by_role("status").get_by_text("Stored:").wait_for()
    page.locator("#format").select_option("pdf")
    with page.expect_download() as made:
        page.get_by_role("button", name="Make it").click()
    assert made.value.suggested_filename == "legs.pdf" and made.value.path().read_bytes().startswith(b"%PDF-")


def test_a_finding_of_a_draft_is_accepted_with_a_reason(site, visit):
    page = visit(site, "/drafts")
    page.locator("#name").fill("curls")
    page.locator("#text").fill(DRAFT)
    page.get_by_role("button", name="Bring it in").click()
    page.get_by_role("status").get_by_text("Stored:").wait_for()
    page.get_by_role("link", name="Finding 1", exact=True).click()  # from the words to what is said of them
    assert page.url.endswith("#f1")
    page.get_by_text("Accept it").first.click()
    page.locator("#because1").fill("It is a quotation")
    page.get_by_role("button", name="Accept finding 1").click()
    page.get_by_text("accepted: It is a quotation").wait_for()
    page.locator("#format").select_option("html")
    with page.expect_download() as made:
        page.get_by_role("button", name="Make it").click()
    assert made.value.suggested_filename == "curls.html"


def test_duplicates_are_merged_and_parted_again(site, visit):
    page = visit(site, "/references/add")
    page.locator("#text").fill(
        ENTRY % ("crane2020", "J Invented", 2020) + ENTRY % ("crane2020b", "Proc Invented", 2021)
    )
    page.get_by_role("button", name="Bring in").click()
    page.get_by_role("status").get_by_text("2 references read").wait_for()
    page.get_by_role("link", name="Decide").click()
    page.get_by_role("button", name="Merge into crane2020", exact=True).click()
    page.get_by_role("status").get_by_text("Stored:").wait_for()
    assert page.get_by_role("button", name="Merge into crane2020", exact=True).count() == 0
    page.get_by_role("button", name="Undo").click()
    page.get_by_role("button", name="Merge into crane2020", exact=True).wait_for()
    assert page.get_by_role("link", name="crane2020b").count() == 1
