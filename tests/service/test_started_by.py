"""The unit and the container file start what there is: their commands are those of the command line."""

from __future__ import annotations

import configparser
import inspect
import re
import shlex

import pytest
from typer.testing import CliRunner

from advisor.faces.cli.main import program
from advisor.service.ticker import EVERY_S
from advisor.shipped import shipped
from advisor.weather import Client


def unit() -> configparser.ConfigParser:
    read = configparser.ConfigParser(strict=False, interpolation=None)
    read.optionxform = str  # type: ignore[assignment,method-assign]
    read.read_string(shipped("config", "advisor.service").read_text("utf-8"))
    return read


def commands(name: str) -> list[list[str]]:
    """Every call of advisor that the file shows or makes."""
    text = shipped("config", name).read_text("utf-8")
    found = re.findall(r"(?:^|[\s/])advisor ((?:serve|status|record)[^\n`]*)", text, re.MULTILINE)
    found += re.findall(r'\["advisor", "(\w+)"\]', text)
    return [shlex.split(one) for one in found]


@pytest.mark.parametrize("name", ["advisor.service", "Containerfile"])
def test_every_command_that_is_shown_is_one_that_there_is(name: str) -> None:
    shown = commands(name)
    assert {words[0] for words in shown} >= {"serve", "status", "record"}
    for words in shown:
        path = words[: 2 if words[0] == "record" else 1]
        done = CliRunner().invoke(program(), [*path, "--help"])
        assert done.exit_code == 0, done.output
        for option in (word for word in words if word.startswith("--")):
            assert option in done.output, option


def test_the_unit_waits_for_the_stop_and_does_not_start_again_what_the_owner_must_mend() -> None:
    service = unit()["Service"]
    assert service["KillSignal"] == "SIGTERM"
    assert int(service["TimeoutStopSec"]) > 5
    assert service["RestartPreventExitStatus"] == "2"
    assert service["UMask"] == "0077"


def test_the_unit_waits_for_a_sign_of_life_longer_than_any_round_takes() -> None:
    service = unit()["Service"]
    assert (service["Type"], service["NotifyAccess"], service["Restart"]) == ("notify", "main", "always")
    minutes = re.fullmatch(r"(\d+)min", service["WatchdogSec"])
    assert minutes is not None
    answers, sites = 10, 3  # those of one site from all services, in turn; several sites, each by itself
    slowest_s = inspect.signature(Client).parameters["total_s"].default
    assert int(minutes[1]) * 60 > answers * sites * slowest_s
    assert int(minutes[1]) * 60 > 10 * EVERY_S


def test_the_unit_takes_away_what_the_service_does_not_need() -> None:
    service = unit()["Service"]
    switches = (
        "ProtectClock",
        "ProtectHostname",
        "ProtectKernelLogs",
        "RestrictSUIDSGID",
        "RestrictRealtime",
    )
    switches += ("MemoryDenyWriteExecute", "RemoveIPC", "NoNewPrivileges", "PrivateDevices", "PrivateTmp")
    assert [name for name in switches if service[name] != "yes"] == []
    assert (service["LimitCORE"], service["CapabilityBoundingSet"]) == ("0", "")
    assert service["SystemCallArchitectures"] == "native"


def test_no_secret_stands_in_either_file() -> None:
    for name in ("advisor.service", "Containerfile"):
        text = shipped("config", name).read_text("utf-8")
        assert not re.search(r"ADVISOR_(EMAIL_PASSWORD|WEBHOOK_SECRET|CHANNEL_\w+)\s*=\s*\S", text)
