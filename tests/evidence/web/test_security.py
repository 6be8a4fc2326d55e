"""Who may come in, and what no page can be made to do."""

import pytest

PAGES = ["/", "/claims", "/history"]


@pytest.mark.parametrize("page", [*PAGES, "/static/site.css"])
def test_nothing_is_shown_without_the_token(stranger, page):
    answer = stranger.get(page)
    assert answer.status_code == 403 and "serve" in answer.text


@pytest.mark.parametrize("token", ["", "wrong", "key2", "kéy"])
def test_a_wrong_token_does_not_open(stranger, token):
    assert stranger.get("/", params={"token": token}).status_code == 403


def test_the_token_becomes_a_cookie_that_scripts_and_other_sites_cannot_use(stranger):
    answer = stranger.get("/claims?token=key&q=a b")
    assert answer.status_code == 303 and answer.headers["location"] == "/claims?q=a+b"
    cookie = answer.headers["set-cookie"]
    assert "HttpOnly" in cookie and "SameSite=strict" in cookie and "7433" in cookie
    assert stranger.get("/claims").status_code == 200


def test_the_token_in_an_address_leads_to_no_other_site(stranger):
    answer = stranger.get("//evil.example/?token=key")
    assert answer.headers.get("location", "/").startswith("/") and "//" not in answer.headers.get(
        "location", ""
    )


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1", "127.0.0.1:80", "localhost.evil.example:7433", ""]
)
def test_another_host_name_is_refused_even_with_the_token(visitor, host):
    assert visitor.get("/", headers={"Host": host}).status_code == 421


@pytest.mark.parametrize("host", ["127.0.0.1:7433", "localhost:7433", "[::1]:7433"])
def test_every_name_of_this_machine_is_known(stranger, host):
    assert stranger.get("/?token=key", headers={"Host": host}).status_code == 303


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://evil.example", "Sec-Fetch-Site": "cross-site"},
        {"Origin": "http://evil.example", "Sec-Fetch-Site": "same-origin"},
        {"Origin": "http://127.0.0.1:7433", "Sec-Fetch-Site": "cross-site"},
        {"Origin": "http://127.0.0.1:7433", "Sec-Fetch-Site": "same-site"},
        {"Origin": "http://localhost:7433", "Sec-Fetch-Site": "same-origin"},
        {"Origin": "null", "Sec-Fetch-Site": "none"},
        {},
    ],
)
def test_a_change_sent_by_another_site_is_refused(stranger, headers):
    stranger.get("/?token=key")
    answer = stranger.post("/undo/1", data={"back": "/"}, headers=headers)
    assert answer.status_code == 403 and "page of Steelyard" in answer.text


def test_a_change_needs_the_token_too(stranger):
    ours = {"Origin": "http://127.0.0.1:7433", "Sec-Fetch-Site": "same-origin"}
    assert stranger.post("/undo/1?token=key", headers=ours).status_code == 403


def test_a_page_that_shows_takes_no_change(visitor):
    assert visitor.post("/claims").status_code == 405


@pytest.mark.parametrize("page", [*PAGES, "/nowhere", "/claims/nowhere", "/static/htmx.min.js"])
def test_every_answer_forbids_what_comes_from_elsewhere(visitor, page):
    answer = visitor.get(page)
    policy = answer.headers["content-security-policy"]
    assert "default-src 'none'" in policy and "unsafe" not in policy and "frame-ancestors 'none'" in policy
    assert answer.headers["x-content-type-options"] == "nosniff"


def test_a_refusal_carries_the_same_headers(stranger):
    assert "content-security-policy" in stranger.get("/").headers


@pytest.mark.parametrize(
    "path", ["/static/../application.py", "/static/%2e%2e/application.py", "/static/..%2f..%2ferrors.py",
             "/static/fonts/../page.css", "/static/%00", "/static//etc/passwd"],
)  # fmt: skip
def test_no_file_outside_the_folder_is_given(visitor, path):
    answer = visitor.get(path)
    assert answer.status_code in (400, 404), path
    assert "import" not in answer.text


def test_a_body_beyond_the_limit_is_refused_before_it_is_read(visitor):
    answer = visitor.post("/undo/1", content=b"x" * 200_001)
    assert answer.status_code == 413 and "MB" in answer.text


def test_a_body_that_hides_its_size_is_cut_off(visitor):
    def endless():
        for _ in range(100):
            yield b"x" * 10_000

    answer = visitor.post(
        "/undo/1", content=endless(), headers={"Content-Type": "application/x-www-form-urlencoded"}
    )
    assert answer.status_code == 413


@pytest.mark.parametrize("length", ["-1", "many", "1e9"])
def test_a_length_that_is_none_is_refused(visitor, length):
    assert visitor.post("/undo/1", headers={"Content-Length": length}).status_code == 413


@pytest.mark.parametrize(
    "back", ["//evil.example", "https://evil.example", "/\\evil.example", "javascript:alert(1)"]
)
def test_the_way_back_leads_to_no_other_site(visitor, back):
    visitor.follow_redirects = False
    answer = visitor.post("/undo/33", data={"back": back})
    assert answer.status_code == 303 and answer.headers["location"].startswith("/?")
