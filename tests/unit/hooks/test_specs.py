import pluggy

from viscount.hooks import specs


def test_the_declared_hooks_are_the_ones_that_pluggy_sees():
    manager = pluggy.PluginManager(specs.PROJECT)
    manager.add_hookspecs(specs)
    seen = {name for name in vars(manager.hook) if not name.startswith("_")}
    assert set(specs.declared()) == seen


def test_hooks_of_coming_releases_are_not_declared_before_something_calls_them():
    assert specs.declared() == (
        "viscount_cameras",
        "viscount_detectors",
        "viscount_gate_triggers",
    )


def test_every_registration_hook_is_declared():
    assert set(specs.REGISTRATION) <= set(specs.declared())


def test_hookimpl_marks_for_this_project():
    @specs.hookimpl
    def viscount_detectors() -> list[object]:
        return []

    assert viscount_detectors.viscount_impl["specname"] is None
