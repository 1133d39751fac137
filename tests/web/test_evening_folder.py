"""The evening's folder behind the live server's doors, and nothing else of the disk."""

import pytest
from support.live import farm_in, live_of, running

from hayweather.cli.main import run


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    folder = tmp_path_factory.mktemp("farms")
    paths = [farm_in(folder), farm_in(folder, name="vallumbria")]
    assert run(["evening", *map(str, paths), "--to", str(folder / "www")]) == 0
    with pytest.MonkeyPatch.context() as here, running(live_of(paths[0]), lan=True) as found:
        here.setattr(found.site, "folder", folder / "www")
        (folder / "www" / "diary.txt").write_text("mine")
        (folder / "www" / "sagebeck" / "secret.html").symlink_to(paths[0])
        yield found


@pytest.mark.slow
def test_the_family_opens_one_address(served):
    phone = served.phone("look")
    assert 'href="evening/"' in phone.get("/").text
    first = phone.get("/evening/")
    assert first.status == 200
    assert 'href="../"' in first.text
    assert 'href="sagebeck/index.html"' in first.text
    assert 'href="vallumbria/index.html"' in first.text
    inside = phone.get("/evening/vallumbria/")
    assert 'href="../../"' in inside.text
    assert 'class="subscribe"' not in inside.text
    calendar = phone.get("/evening/sagebeck/night.ics")
    assert calendar.headers["content-type"].startswith("text/calendar")
    assert calendar.text.startswith("BEGIN:VCALENDAR")
    assert first.headers["content-security-policy"] == "frame-ancestors 'none'"
    assert "Content-Security-Policy" in first.text


@pytest.mark.slow
def test_nothing_else_of_the_disk_is_served(served):
    tricks = (
        ".hayweather.json", ".hayweather/state.json", "diary.txt", "sagebeck/secret.html",
        "../sagebeck.toml", "..%2fsagebeck.toml", "%2e%2e/sagebeck.toml", "/etc/passwd",
        "sagebeck/../../sagebeck.toml", "sagebeck/sw.js", "sagebeck", "\\..\\sagebeck.toml",
    )  # fmt: skip
    phone, stranger = served.phone(), served.phone(None)
    for trick in tricks:
        assert phone.get(f"/evening/{trick}").status == 404, trick
    for page in ("", "index.html", "sagebeck/night.json"):
        assert stranger.get(f"/evening/{page}").status == 403


def test_a_folder_that_is_no_evening_is_refused(tmp_path, capsys):
    path = farm_in(tmp_path)
    assert run(["serve", str(path), "--port", "0", "--folder", str(tmp_path)]) == 2
    assert "no evening stands in this folder" in capsys.readouterr().err
