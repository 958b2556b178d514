"""The public names of the package: a fixed list, each loadable, none hidden by a module of the same name."""

import pkgutil

import pytest

import workbench

NAMES = [
    "InputError",
    "check_block",
    "curve_question",
    "data_path",
    "drop_question",
    "fit_log",
    "make_plan",
    "mends",
    "predict_sets",
    "read_block",
    "read_lifter",
    "read_log",
    "read_room",
    "score",
]


def test_the_list_changes_only_on_purpose():
    assert workbench.__all__ == NAMES


@pytest.mark.parametrize("name", NAMES)
def test_each_name_loads(name):
    assert callable(getattr(workbench, name))


def test_no_module_has_a_public_name():
    # Once imported, a module of the same name would stand where the function should.
    modules = {module.name for module in pkgutil.iter_modules(workbench.__path__)}
    assert modules.isdisjoint(NAMES)


def test_an_unknown_name_is_an_attribute_error():
    with pytest.raises(AttributeError, match="no attribute 'no_such_name'"):
        _ = workbench.no_such_name
