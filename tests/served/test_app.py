"""The served page refuses what is not for it: other hosts, other pages, other files."""

from __future__ import annotations

import asyncio
import threading
from pathlib import Path

import pytest
from starlette.requests import Request

from thrustlapse.learning import learned, learned_text, log_piece, machine, with_piece
from thrustlapse.report.atomic_write import Changed, edit_file
from thrustlapse.scenario.files.read import read_scenario
from thrustlapse.served import app as app_module
from thrustlapse.served.app import LARGEST_BODY, make_app
from thrustlapse.served.scenario_editor import ScenarioEditor

TestClient = pytest.importorskip("starlette.testclient").TestClient

STORY = Path("scenarios/three_ways_to_push.toml")
EXIT = ["candidates", "blower", "nozzle", "exit_diameter"]
HERE = "/word/"


@pytest.fixture
def client(tmp_path: Path):
    file = tmp_path / "mine.toml"
    file.write_bytes(STORY.read_bytes())
    app = make_app(ScenarioEditor(file=file, folder=tmp_path), secret="word")
    with TestClient(app, base_url="http://127.0.0.1:8000", raise_server_exceptions=False) as made:
        made.folder = tmp_path
        yield made


def test_it_answers_with_curves_and_the_number_of_the_question(client) -> None:
    reply = client.post(f"{HERE}picture", json={"number": 7, "changes": [[EXIT, "14 mm"]]})
    assert reply.status_code == 200
    assert reply.json()["number"] == 7
    assert len(reply.json()["table"]["candidates"]) == 3


def test_the_band_with_and_without_each_piece_of_evidence_is_a_page(tmp_path: Path) -> None:
    for name in ("three_ways_to_push.toml", "story_fan_flight.csv"):
        (tmp_path / name).write_bytes((STORY.parent / name).read_bytes())
    told = read_scenario(tmp_path / "three_ways_to_push.toml")
    fan = machine(told, "fan")
    found = learned(with_piece(fan, log_piece(fan, tmp_path / "story_fan_flight.csv",
                                              date="2026-01-02")))
    fan.file.write_text(learned_text(found), encoding="utf-8")
    text = (tmp_path / "three_ways_to_push.toml").read_text(encoding="utf-8")
    start = text.index("[candidates.fan]")
    end = text.index("[candidates.propeller]")
    file = tmp_path / "mine.toml"
    file.write_text(f'{text[:start]}[candidates.fan]\ninclude = "fan.machine.toml"\n\n'
                    + text[end:], encoding="utf-8")
    app = make_app(ScenarioEditor(file=file, folder=tmp_path), secret="word")
    with TestClient(app, base_url="http://127.0.0.1:8000") as made:
        assert 'href="evidence/fan"' in made.get(HERE).text
        page = made.get(f"{HERE}evidence/fan")
        assert page.status_code == 200
        assert "script-src 'none'" in page.headers["Content-Security-Policy"]
        for words in ("story_fan_flight.csv", "all without it", "the description alone", "<svg"):
            assert words in page.text
        assert "figures/" not in page.text
        assert made.get(f"{HERE}evidence/blower").status_code == 404


def test_faults_come_as_words_and_nothing_else(client) -> None:
    reply = client.post(f"{HERE}picture", json={"changes": [[EXIT, "14 bananas"]]})
    assert reply.status_code == 200
    assert 'unknown unit "bananas"' in reply.json()["faults"][0]["text"]
    assert set(reply.json()) == {"faults"}


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example", "", "0.0.0.0:8000",
                                  "192.168.0.7:8000", "localhost.evil.example:8000"])
def test_a_foreign_name_for_this_machine_is_refused(client, host) -> None:
    """A name of another site pointed at this machine (DNS rebinding) must not reach the page."""
    assert client.get(HERE, headers={"Host": host}).status_code == 403
    assert client.post(f"{HERE}picture", json={}, headers={"Host": host}).status_code == 403


@pytest.mark.parametrize("host", ["127.0.0.1:8000", "localhost:9", "[::1]:8000", "localhost"])
def test_this_machine_is_answered(client, host) -> None:
    assert client.get(HERE, headers={"Host": host}).status_code == 200


@pytest.mark.parametrize("path", ["/", "/picture", "/other/", "/other/picture", "/wor/"])
def test_without_the_secret_there_is_nothing(client, path) -> None:
    assert client.get(path).status_code == 404
    assert client.post(path, json={}).status_code == 404


@pytest.mark.parametrize("headers", [
    {"Origin": "http://evil.example"}, {"Origin": "null"}, {"Origin": "https://127.0.0.1:8000"},
    {"Origin": "http://127.0.0.1:9999"}, {"Sec-Fetch-Site": "cross-site"}])
def test_what_another_page_sends_is_refused(client, headers) -> None:
    before = (client.folder / "mine.toml").read_bytes()
    reply = client.post(f"{HERE}write", json={"changes": [[EXIT, "14 mm"]]}, headers=headers)
    assert reply.status_code == 403
    assert (client.folder / "mine.toml").read_bytes() == before


@pytest.mark.parametrize(("body", "status"), [
    (b"", 400), (b"[]", 400), (b"{", 400), (b"[" * 60_000, 400), (b"\xff\xfe", 400),
    (b'{"changes": 3}', 400), (b'{"changes": [[[], "1"]]}', 400),
    (b'{"changes": [[["a"], 1]]}', 400), (b'{"changes": [[[true], "1"]]}', 400),
    (b'{"changes": [[["a"], "1", "2"]]}', 400),
    (b" " * (LARGEST_BODY + 1), 413)])
def test_what_no_page_of_ours_sends_is_refused_in_words(client, body, status) -> None:
    reply = client.post(f"{HERE}picture", content=body,
                        headers={"Content-Type": "application/json"})
    assert reply.status_code == status
    assert reply.json()["refused"]


def test_a_form_of_another_page_is_no_json(client) -> None:
    reply = client.post(f"{HERE}write", data={"changes": "[]"})
    assert reply.status_code == 415


def test_only_files_of_write_ups_made_here_are_shown(client) -> None:
    for path in ("mine/index.html", "../mine.toml", "x/../../mine.toml", "%2e%2e/mine.toml"):
        assert client.get(f"{HERE}write-up/{path}").status_code == 404
    reply = client.post(f"{HERE}write-up", json={"changes": [[EXIT, "14 mm"]], "name": "made"})
    assert reply.json()["page"] == "write-up/made/index.html"
    assert client.get(f"{HERE}write-up/made/index.html").status_code == 200
    assert client.get(f"{HERE}write-up/made/figures/thrust.svg").status_code == 200
    (client.folder / "made" / "secret.txt").write_text("no", encoding="utf-8")
    (client.folder / "made" / "figures" / "out.svg").symlink_to(client.folder / "mine.toml")
    for path in ("made/secret.txt", "made/figures/out.svg", "made/../mine.toml",
                 "made/figures/..%2f..%2fmine.toml", "made/figures/"):
        assert client.get(f"{HERE}write-up/{path}").status_code == 404


def test_the_page_states_what_may_run_and_is_kept_nowhere(client) -> None:
    reply = client.get(HERE)
    policy = reply.headers["Content-Security-Policy"]
    assert "script-src 'sha256-" in policy
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert reply.headers["Cache-Control"] == "no-store"
    assert reply.headers["Referrer-Policy"] == "no-referrer"
    assert "http://" not in reply.text.replace("http://www.w3.org", "").replace("https://", "")


def test_an_inner_failure_tells_no_inner_workings(client, monkeypatch) -> None:
    def broken(*_: object) -> None:
        raise RuntimeError("/home/someone/secret")

    monkeypatch.setattr(ScenarioEditor, "picture", broken)
    reply = client.post(f"{HERE}picture", json={"changes": []})
    assert reply.status_code == 500
    assert "secret" not in reply.text
    assert "still stand" in reply.json()["faults"][0]["text"]


@pytest.mark.parametrize("body", [
    b'{"number": NaN, "changes": []}', b'{"number": 1e400, "changes": []}',
    b'{"number": "\\ud800", "changes": []}', b'{"number": -Infinity, "changes": []}'])
def test_what_is_no_json_is_refused_and_no_inner_fault(client, body: bytes) -> None:
    reply = client.post(f"{HERE}picture", content=body,
                        headers={"Content-Type": "application/json"})
    assert reply.status_code == 400
    assert reply.json() == {"refused": "not JSON"}


def test_a_body_that_never_comes_has_a_time_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(app_module, "LONGEST_WAIT", 0.05)

    async def never() -> dict[str, object]:
        await asyncio.sleep(60.0)
        raise AssertionError

    request = Request({"type": "http", "method": "POST", "path": "/", "query_string": b"",
                       "scheme": "http", "headers": [(b"content-type", b"application/json")]},
                      receive=never)
    loop = asyncio.new_event_loop()  # in a thread of its own: other tests keep one running
    found: list[int] = []

    def ask() -> None:
        try:
            loop.run_until_complete(app_module._sent(request))
        except app_module.Refusal as refusal:
            found.append(refusal.status)

    thread = threading.Thread(target=ask)
    thread.start()
    thread.join(10.0)
    loop.close()
    assert found == [408]


def test_a_write_up_is_served_under_the_same_policy_as_the_page(client) -> None:
    made = client.post(f"{HERE}write-up", json={"name": "mine-report", "changes": []}).json()
    reply = client.get(f"/word/{made['page']}")
    policy = reply.headers["content-security-policy"]
    assert policy.startswith(app_module.POLICY)
    assert "'sha256-" in policy.partition("script-src")[2]


def test_writing_back_keeps_the_mode_and_the_link(client) -> None:
    real = client.folder / "kept" / "real.toml"
    real.parent.mkdir()
    file = client.folder / "mine.toml"
    file.rename(real)
    real.chmod(0o640)
    file.symlink_to(real)
    reply = client.post(f"{HERE}write", json={"changes": [[EXIT, "14 mm"]]})
    assert reply.json() == {"written": "mine.toml"}
    assert file.is_symlink()
    assert '"14 mm"' in real.read_text(encoding="utf-8")
    assert real.stat().st_mode & 0o777 == 0o640


def test_a_save_between_check_and_replace_is_noticed(tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text("theirs", encoding="utf-8")
    with pytest.raises(Changed, match="changed by someone else"):
        edit_file(file, "mine", before=b"what was read")
    assert file.read_text(encoding="utf-8") == "theirs"
    assert [path.name for path in tmp_path.iterdir()] == ["mine.toml"]
