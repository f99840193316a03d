"""Who gets in: this computer, the local network when asked for, and HTTPS."""

import ssl
import urllib.request
from pathlib import Path

import pytest

from tests.certificates import make_certificate
from tests.house import PATIENCE_SECONDS, RunningHouse, free_port, run_manage, wait_until


def test_house_on_the_network_answers_to_its_own_addresses_and_to_no_other_name(tmp_path: Path) -> None:
    with RunningHouse(tmp_path / "data", "--lan", "127.0.0.2", host="127.0.0.2") as house:
        assert house.status("/healthz") == 200
        assert house.status("/healthz", {"Host": f"127.0.0.1:{house.port}"}) == 200
        assert house.status("/healthz", {"Host": "thistlewick.example"}) == 400
        assert house.status("/healthz", {"Host": "127.0.0.3"}) == 400
        house.base_url = f"http://127.0.0.1:{house.port}"
        assert house.status("/healthz") == 200
        wait_until(lambda: "Ctrl-C ends it." in house.output(), seconds=PATIENCE_SECONDS, what="the greeting")
        said = house.output()
    assert f"On the local network: http://127.0.0.2:{house.port}/set-up/?key=" in said
    assert "\u2588" in said or "\u2580" in said, "a QR code is drawn in blocks"
    assert "can read what is sent, passwords too" in said


@pytest.fixture(scope="module")
def certificate(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    return make_certificate(tmp_path_factory.mktemp("certificate"))


@pytest.mark.needs("openssl")
def test_house_with_a_certificate_speaks_https_that_a_browser_can_check(tmp_path: Path, certificate: tuple[Path, Path]) -> None:
    cert, key = certificate
    with RunningHouse(tmp_path / "data", "--cert", str(cert), "--key", str(key)) as house:
        trusting = ssl.create_default_context(cafile=str(cert))
        with urllib.request.urlopen(f"{house.base_url}/healthz", context=trusting, timeout=20) as answer:
            assert answer.status == 200
            assert answer.headers["Strict-Transport-Security"].startswith("max-age=")
        with urllib.request.urlopen(f"{house.base_url}/set-up/", context=trusting, timeout=20) as page:
            cookies = page.headers.get_all("Set-Cookie")
        assert cookies and all("; Secure" in cookie for cookie in cookies)
        wait_until(lambda: "Ctrl-C ends it." in house.output(), seconds=PATIENCE_SECONDS, what="the greeting")
    assert f"open at https://127.0.0.1:{house.port}/" in house.output()


@pytest.mark.needs("openssl")
def test_key_of_another_certificate_is_refused(tmp_path: Path, certificate: tuple[Path, Path]) -> None:
    other_key = make_certificate(tmp_path)[1]
    words = ["--port", str(free_port()), "--cert", str(certificate[0]), "--key", str(other_key)]
    refused = run_manage("start", *words, data=tmp_path / "data")
    assert refused.returncode == 2
    assert refused.stdout == (
        f"Curehouse: --key {other_key} doesn't belong to --cert {certificate[0]}; give the two that were made together.\n"
    )


def test_files_that_are_no_certificate_are_refused(tmp_path: Path) -> None:
    soap = tmp_path / "soap.pem"
    soap.write_text("no certificate")
    words = ["--port", str(free_port()), "--cert", str(soap), "--key", str(soap)]
    refused = run_manage("start", *words, data=tmp_path / "data")
    assert refused.returncode == 2
    assert "both must be PEM files" in refused.stdout
    missing = run_manage("start", "--cert", str(tmp_path / "no.pem"), "--key", str(soap), data=tmp_path / "data")
    assert missing.stdout == f"Curehouse: --cert {tmp_path}/no.pem can't be read (No such file or directory).\n"
