"""Plugins as third parties write them: found, loaded, refused, never taken from a repository."""

import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from builders import (
    TODAY,
    make_face,
    make_facts,
    make_feature,
    make_part,
    make_process,
    make_settings,
)
from installed import Install, write_metadata

from dfmcheck.api import PartFacts, ProcessChoice, Reporter, Rule, Series, hookimpl
from dfmcheck.checking.engine import check_part
from dfmcheck.checking.extensions import (
    further_features,
    further_reporters,
    further_series,
    process_by_plugin,
)
from dfmcheck.checking.plugins import PluginManager, make_plugin_manager, plugin_versions
from dfmcheck.checking.registry import collect_rules
from dfmcheck.errors import PluginError

SHIPPED = collect_rules(make_plugin_manager())

RULE = '''
from dfmcheck.api import hookimpl, rule, Remark, Limit

@rule(name="{name}", title="t", level="note", looks_at="part", limits=({limits}))
def check(view):
    """Costs something."""
    yield Remark(message="{name} said so")

@hookimpl
def dfmcheck_rules():
    return (check,)
'''


def a_plugin(name: str, limits: str = "") -> str:
    return RULE.format(name=name, limits=limits)


class TestLoading:
    def test_the_shipped_rules_always_load_and_say_whence(self) -> None:
        manager = make_plugin_manager()
        assert [name for name, _ in manager.list_name_plugin()] == ["dfmcheck_rules"]
        assert manager.sources["dfmcheck_rules"].startswith("dfmcheck ")
        assert {r.plugin for r in SHIPPED} == {"dfmcheck_rules"}

    def test_naming_them_changes_nothing(self) -> None:
        assert collect_rules(make_plugin_manager(("dfmcheck_rules",))) == SHIPPED

    @pytest.mark.usefixtures("lamp_rules")
    def test_an_installed_plugin_judges_only_if_it_is_named(self) -> None:
        assert collect_rules(make_plugin_manager()) == SHIPPED
        assert "lamp_rules" not in sys.modules
        manager = make_plugin_manager(("lamp_rules",))
        rules = collect_rules(manager)
        assert {r.name for r in rules} - {r.name for r in SHIPPED} == {"cable-hole"}
        assert manager.sources["lamp_rules"] == "lamp-rules 1.2.0"
        part = make_part(make_feature("hole", diameter_mm=3.6))
        findings, failed = check_part(part, None, None, make_settings(), rules, TODAY)
        assert "cable-hole" in {f.rule for f in findings}
        assert failed == ()

    def test_two_managers_share_nothing(self, install: Install) -> None:
        install("other_rules", a_plugin("other-rule"))
        assert len(collect_rules(make_plugin_manager(("other_rules",)))) == len(SHIPPED) + 1
        assert len(collect_rules(make_plugin_manager())) == len(SHIPPED)

    def test_order_and_repetition_of_names_change_nothing(self, install: Install) -> None:
        install("first_rules", a_plugin("a-rule"))
        install("second_rules", a_plugin("b-rule"))
        one = collect_rules(make_plugin_manager(("first_rules", "second_rules")))
        other = collect_rules(make_plugin_manager(("second_rules", "first_rules", "second_rules")))
        assert one == other

    def test_without_any_plugin_there_are_no_rules(self) -> None:
        assert collect_rules(make_plugin_manager(shipped=False)) == ()


class TestRefusals:
    def test_a_plugin_that_is_not_installed(self) -> None:
        with pytest.raises(PluginError) as caught:
            make_plugin_manager(("lamp_rules",))
        assert str(caught.value) == (
            "the configuration names the plugin 'lamp_rules', but no installed package offers it "
            "(entry-point group 'dfmcheck'; no other plugin is installed); install it in the "
            "environment that runs dfmcheck, or take it out of `plugins`"
        )

    @pytest.mark.usefixtures("lamp_rules")
    def test_names_those_that_are(self) -> None:
        with pytest.raises(PluginError, match="installed are: lamp_rules"):
            make_plugin_manager(("lamprules",))

    def test_a_plugin_offered_twice(self, install: Install, site: Path) -> None:
        install("twice_rules", a_plugin("twice"))
        write_metadata(site, "other-twice", "2.0", {"twice_rules": "twice_rules"})
        with pytest.raises(PluginError, match=r"by other-twice 2\.0 and twice-rules 1\.0"):
            make_plugin_manager(("twice_rules",))

    @pytest.mark.parametrize(
        ("text", "said"),
        [
            ("import no_such_module", "cannot be loaded: ModuleNotFoundError"),
            ("def broken(:", "cannot be loaded: SyntaxError"),
            ("raise SystemExit('bye')", "cannot be loaded: SystemExit: bye"),
            ("x = 1", "implements no hook"),
            (
                "from dfmcheck.api import hookimpl\n@hookimpl\ndef dfmcheck_rulez(): return ()",
                "unknown hook 'dfmcheck_rulez'.*the hooks are .*dfmcheck_rules",
            ),
            (
                "from dfmcheck.api import hookimpl\n@hookimpl\ndef dfmcheck_rules(view): return ()",
                r"implements a hook wrongly: PluginValidationError: .*\{'view'\}",
            ),
        ],
    )
    def test_a_broken_plugin_is_named_with_what_is_wrong(
        self, install: Install, text: str, said: str
    ) -> None:
        install("broken_rules", text)
        with pytest.raises(PluginError, match=said) as caught:
            make_plugin_manager(("broken_rules",))
        assert "broken_rules" in str(caught.value)
        assert "\n" not in str(caught.value)


class TestRules:
    def collect(self, install: Install, **plugins: str) -> tuple[Rule, ...]:
        for name, text in plugins.items():
            install(name, text)
        return collect_rules(make_plugin_manager(tuple(plugins)))

    def test_two_rules_of_one_name(self, install: Install) -> None:
        with pytest.raises(
            PluginError,
            match="'deep-hole', one of the plugin 'dfmcheck_rules' and one of 'x_rules'",
        ):
            self.collect(install, x_rules=a_plugin("deep-hole"))

    def test_two_limits_of_one_name(self, install: Install) -> None:
        limit = (
            'Limit(name="setups", default=9.0, unit="s", sense="most", source="s", meaning="m"),'
        )
        with pytest.raises(PluginError, match="both have a limit 'setups'"):
            self.collect(install, x_rules=a_plugin("x-rule", limit))

    def test_a_rule_called_like_the_limit_of_another(self, install: Install) -> None:
        with pytest.raises(PluginError, match="a permit could not tell them apart"):
            self.collect(install, x_rules=a_plugin("wall"))

    @pytest.mark.parametrize(
        ("body", "said"),
        [
            ("raise ValueError('no')", "failed in dfmcheck_rules: ValueError: no"),
            ("return 7", "gave int from dfmcheck_rules, not a collection"),
            ("return 'rules'", "gave str from dfmcheck_rules, not a collection"),
            ("return ('rule',)", "gave str from dfmcheck_rules, not a rule"),
            ("yield from (1/0,)", "failed in dfmcheck_rules: ZeroDivisionError"),
            ("return (replace(sound, level='fatal'),)", "has the level 'fatal'"),
            ("return (replace(sound, name='Rule 1'),)", "lower-case words joined by hyphens"),
            ("return (replace(sound, name=7),)", "lower-case words joined by hyphens"),
            ("return (replace(sound, looks_at='all'),)", "looks at 'all'"),
            ("return (replace(sound, piece='finish'),)", "must name a piece"),
            ("return (replace(sound, makes='cast'),)", "is for 'cast'"),
            ("return (replace(sound, check=None),)", "not a function"),
            ("return (replace(sound, limits=[]),)", "not a tuple"),
            ("return (replace(sound, limits=(3,)),)", "is int, not Limit"),
            ("return (replace(sound, limits=(limit(name='a-b'),)),)", "joined by underscores"),
            ("return (replace(sound, limits=(limit(sense='max'),)),)", "sense is 'max'"),
            ("return (replace(sound, limits=(limit(default=True),)),)", "default is True"),
            ("return (replace(sound, limits=(limit(source=''),)),)", "without a source"),
        ],
    )
    def test_what_is_no_sound_rule_is_refused_and_its_plugin_named(
        self, install: Install, body: str, said: str
    ) -> None:
        text = (
            "from dataclasses import replace\n"
            "from dfmcheck.api import Limit, hookimpl, rule\n"
            "@rule(name='sound', title='t', level='note', looks_at='part')\n"
            "def sound(view):\n    'Costs something.'\n    return ()\n"
            "def limit(**other):\n"
            "    return Limit(**{**dict(name='a', default=1.0, unit='mm', sense='most',\n"
            "                           source='s', meaning='m'), **other})\n"
            f"@hookimpl\ndef dfmcheck_rules():\n    {body}\n"
        )
        with pytest.raises(PluginError, match=said) as caught:
            self.collect(install, x_rules=text)
        assert "x_rules" in str(caught.value)


@pytest.mark.parametrize("attack", ["distribution", "module", "package"])
class TestTheRepositoryIsNeverRun:
    """The folder one stands in may be the repository under test, and on Python's search path."""

    @pytest.fixture
    def trap(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
        repository = tmp_path / "repository"
        repository.mkdir()
        (tmp_path / "x").mkdir()
        monkeypatch.chdir(repository)
        for entry in (".", "", str(repository), str(repository.parent / "x" / ".." / "repository")):
            monkeypatch.syspath_prepend(entry)
        return repository

    def spring(self, trap: Path, attack: str, name: str) -> None:
        text = f"open({str(trap / 'sprung')!r}, 'w').close()\n" + a_plugin("evil-rule")
        if attack == "package":
            (trap / name).mkdir()
            (trap / name / "__init__.py").write_text(text, encoding="utf-8")
            (trap / name / "plugin.py").write_text(text, encoding="utf-8")
        else:
            (trap / f"{name}.py").write_text(text, encoding="utf-8")
        if attack == "distribution":
            write_metadata(trap, name, "9.9", {name: name})

    def test_a_plugin_of_the_repository_is_not_found(self, trap: Path, attack: str) -> None:
        self.spring(trap, attack, "evil_rules")
        with pytest.raises(PluginError, match="no installed package offers it"):
            make_plugin_manager(("evil_rules",))
        assert not (trap / "sprung").exists()

    def test_an_installed_plugin_is_not_shadowed(
        self, trap: Path, attack: str, install: Install, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        install("good_rules", a_plugin("good-rule"))
        monkeypatch.syspath_prepend(trap)  # the repository comes first again
        self.spring(trap, attack, "good_rules")
        rules = collect_rules(make_plugin_manager(("good_rules",)))
        assert {r.name for r in rules} - {r.name for r in SHIPPED} == {"good-rule"}
        assert not (trap / "sprung").exists()

    def test_nor_are_the_shipped_rules(self, trap: Path, attack: str) -> None:
        before = {
            k: sys.modules.pop(k) for k in list(sys.modules) if k.startswith("dfmcheck_rules")
        }
        try:
            self.spring(trap, attack, "dfmcheck_rules")
            write_metadata(trap, "dfmcheck", "99.0", {"dfmcheck_rules": "dfmcheck_rules"})
            names = {r.name for r in collect_rules(make_plugin_manager())}
        finally:
            sys.modules.update(before)
        assert names == {r.name for r in SHIPPED}
        assert not (trap / "sprung").exists()

    def test_the_search_path_is_left_as_it_was(self, trap: Path, attack: str) -> None:
        self.spring(trap, attack, "evil_rules")
        before = list(sys.path)
        make_plugin_manager()
        assert sys.path == before


@pytest.mark.usefixtures("lamp_rules")
class TestOtherHooks:
    def test_a_recogniser_with_an_older_signature_still_works(self) -> None:
        manager = make_plugin_manager(("lamp_rules",))
        assert plugin_versions(manager) == (("lamp_rules", "lamp-rules 1.2.0"),)
        facts = make_facts((make_face(0), make_face(1, surface="sphere", radius_mm=1.0)))
        hole = make_feature("hole", id="hole-1", faces=(0,))
        whole = make_feature("boss", id="boss-1", faces=(1,))
        shared = make_feature("pocket", id="pocket-1", faces=(0, 1))
        found = further_features(manager, facts, (hole, whole))
        assert [(f.id, f.faces) for f in found] == [("hole-1", (0,)), ("engraving-lamp", (1,))]
        found = further_features(manager, facts, (shared,))
        assert [(f.id, f.faces) for f in found] == [("pocket-1", (0,)), ("engraving-lamp", (1,))]
        assert further_features(manager, make_facts((make_face(0),)), (hole,)) == (hole,)

    def test_series_and_reporters_are_collected(self) -> None:
        manager = make_plugin_manager(("lamp_rules",))
        assert [s.name for s in further_series(manager)] == ["studio shelf"]
        assert [r.name for r in further_reporters(manager)] == ["chat"]
        assert process_by_plugin(manager, make_facts(), ()) is None


def _giving(**hooks: object) -> object:
    """A plugin object whose hooks give these values."""

    class Giving:
        pass

    def giver(value: object) -> Callable[[], object]:
        return lambda: value

    plugin = Giving()
    for name, value in hooks.items():
        setattr(plugin, name, hookimpl(giver(value)))
    return plugin


class TestRubbishFromOtherHooks:
    facts = make_facts((make_face(0), make_face(1)))

    def manager(self, *plugins: object) -> PluginManager:
        return make_plugin_manager((), plugins, shipped=False)

    @pytest.mark.parametrize(
        ("given", "said"),
        [
            (7, "gave int from dfmcheck_recognise_features, not a collection"),
            (("hole",), "gave str from dfmcheck_recognise_features"),
            ((make_feature("hole", id="hole-1", faces=(5,)),), "must be faces of the part"),
            ((make_feature("hole", id="hole-1", faces=()),), "must be faces of the part"),
            ((make_feature("hole", id="hole-1", faces=(0, 0)),), "each once"),
            ((make_feature("hole", id="boss-1", faces=(0,)),), "the id 'boss-1', which is taken"),
            ((make_feature("hole", id="hole-1", faces=(0,), depth_mm="4"),), "not sound"),
        ],
    )
    def test_features(self, given: object, said: str) -> None:
        known = (make_feature("boss", id="boss-1", faces=(1,)),)
        manager = self.manager(_giving(dfmcheck_recognise_features=given))
        with pytest.raises(PluginError, match=said):
            further_features(manager, self.facts, known)

    def test_two_plugins_that_claim_one_face(self) -> None:
        one, other = (
            _giving(dfmcheck_recognise_features=(make_feature("hole", id=n, faces=(0,)),))
            for n in ("hole-8", "hole-9")
        )
        with pytest.raises(PluginError, match="has it already"):
            further_features(self.manager(one, other), self.facts, ())

    def test_series_reporters_and_process(self) -> None:
        with pytest.raises(PluginError, match="not Series"):
            further_series(self.manager(_giving(dfmcheck_stock_series=("round 8",))))
        with pytest.raises(PluginError, match="not a reporter"):
            further_reporters(self.manager(_giving(dfmcheck_reporters=("json",))))
        with pytest.raises(PluginError, match="not ProcessChoice"):
            process_by_plugin(
                self.manager(_giving(dfmcheck_choose_process="turned")), self.facts, ()
            )

    def test_of_two_processes_the_plugin_whose_name_comes_first_decides(self) -> None:
        class Alpha:
            @hookimpl
            def dfmcheck_choose_process(self) -> ProcessChoice:
                return make_process("turned", 1)

        class Beta:
            @hookimpl
            def dfmcheck_choose_process(self, part: PartFacts) -> ProcessChoice | None:
                return make_process("milled") if part.faces else None

        for plugins in ((Alpha(), Beta()), (Beta(), Alpha())):
            chosen = process_by_plugin(self.manager(*plugins), self.facts, ())
            assert chosen == make_process("turned", 1)
        assert process_by_plugin(self.manager(Beta()), self.facts, ()) == make_process("milled")
        assert process_by_plugin(self.manager(Beta()), make_facts(), ()) is None

    def test_two_reporters_of_one_name(self) -> None:
        one, other = (
            _giving(dfmcheck_reporters=(Reporter(name="chat", description="d", render=str),))
            for _ in range(2)
        )
        with pytest.raises(PluginError, match="two reporters are named 'chat'"):
            further_reporters(self.manager(one, other))

    def test_series_are_in_the_order_of_the_plugins_names(self) -> None:
        shelf = Series(form="round", family="all", name="shelf", sizes_mm=(8.0,), source="s")
        plugin = _giving(dfmcheck_stock_series=(shelf,))
        assert further_series(self.manager(plugin)) == (shelf,)
