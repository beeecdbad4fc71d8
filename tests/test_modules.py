"""The shape of the source: sizes, and what the house never does, where no linter looks."""

import ast
import re

import pytest
from django.apps import apps
from django.db.models import Field
from django.utils.functional import Promise

from tests.source import APPS, Module, lines_of, modules

LONGEST_MODULE = 300
LONGEST_KERNEL_MODULE = 400
LONGEST_FUNCTION = 40
LONGEST_VIEW = 25
MOST_RESULTS = 2
VAGUE_NAMES = {"utils", "helpers", "common", "misc", "base", "mixins"}
NEVER_IMPORTED = {
    "django.db.models.signals": "signals",
    "django.dispatch": "signals",
    "django.contrib.contenttypes.fields": "generic foreign keys",
}
CLOCK = {"now", "today", "utcnow", "localdate", "localtime", "time"}
CLOCK_OWNERS = {"timezone", "date", "datetime", "dt", "time"}
# Only these read the clock; below them the moment is an argument.
READ_THE_CLOCK = re.compile(r"/(views|management|tasks|admin|api)(/|\.py$)")
# A parameter's own line in a docstring may name several that are alike.
LISTED = r"(?:\w+, )*"
VIEWS = re.compile(r"/views(/|\.py$)")


def test_there_is_source_to_look_at() -> None:
    assert {name.partition("/")[0] for name in (module.name for module in modules())} == set(APPS)


def test_no_module_is_too_long() -> None:
    limits = {
        module.name: LONGEST_KERNEL_MODULE if module.is_kernel else LONGEST_MODULE
        for module in modules()
    }
    lengths = {module.name: len(module.text.splitlines()) for module in modules()}
    assert {name: length for name, length in lengths.items() if length > limits[name]} == {}


def test_no_function_is_too_long() -> None:
    too_long = {}
    for module in modules():
        limit = LONGEST_VIEW if VIEWS.search(module.name) else LONGEST_FUNCTION
        for function in module.functions():
            if lines_of(function) > limit:
                too_long[f"{module.name}:{function.lineno} {function.name}"] = lines_of(function)
    assert too_long == {}


def test_no_module_has_a_name_that_says_nothing() -> None:
    assert [module.name for module in modules() if module.path.stem in VAGUE_NAMES] == []


def test_imports_stand_at_the_top() -> None:
    inner = [
        f"{module.name}:{node.lineno}"
        for module in modules()
        for function in module.functions()
        for node in ast.walk(function)
        if isinstance(node, ast.Import | ast.ImportFrom)
    ]
    assert inner == []


def test_no_signals_and_no_generic_foreign_keys() -> None:
    used = [
        f"{module.name}:{node.lineno} {NEVER_IMPORTED[node.module]}"
        for module in modules()
        for node in ast.walk(module.tree)
        if isinstance(node, ast.ImportFrom) and node.module in NEVER_IMPORTED
    ]
    assert used == []


def is_clock(call: ast.AST) -> bool:
    """Whether a call asks for the present moment, as in `timezone.now()`."""
    return (
        isinstance(call, ast.Call)
        and isinstance(call.func, ast.Attribute)
        and call.func.attr in CLOCK
        and isinstance(call.func.value, ast.Name | ast.Attribute)
        and getattr(call.func.value, "id", getattr(call.func.value, "attr", "")) in CLOCK_OWNERS
        and not call.args
    )


@pytest.mark.parametrize(
    ("source", "asks"),
    [
        ("timezone.now()", True),
        ("dt.date.today()", True),
        ("datetime.now()", True),
        ("timezone.localtime(moment)", False),
        ("record.now()", False),
    ],
)
def test_the_search_for_clocks_finds_them(source: str, *, asks: bool) -> None:
    assert is_clock(ast.parse(source, mode="eval").body) is asks


def test_only_views_and_commands_read_the_clock() -> None:
    read = [
        f"{module.name}:{node.lineno}"
        for module in modules()
        if not READ_THE_CLOCK.search(module.name)
        for node in ast.walk(module.tree)
        if is_clock(node)
    ]
    assert read == []


def results_of(function: ast.FunctionDef) -> int:
    """How many results a function hands back as a tuple of fixed length."""
    returns = function.returns
    is_tuple = isinstance(returns, ast.Subscript) and ast.unparse(returns.value) == "tuple"
    if not is_tuple or not isinstance(returns.slice, ast.Tuple):
        return 1
    of_any_length = any(
        isinstance(part, ast.Constant) and part.value is ... for part in returns.slice.elts
    )
    return 1 if of_any_length else len(returns.slice.elts)


def test_no_function_returns_a_tuple_of_more_than_two() -> None:
    crowded = [
        f"{module.name}:{function.lineno} {function.name}"
        for module in modules()
        for function in module.functions()
        if results_of(function) > MOST_RESULTS
    ]
    assert crowded == []


def public_kernel_functions() -> list[tuple[Module, ast.FunctionDef]]:
    """The functions that the rest of the program may call."""
    return [
        (module, node)
        for module in modules()
        if module.is_kernel
        for node in module.tree.body
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_")
    ]


def test_every_kernel_function_tells_its_parameters_and_results() -> None:
    untold = []
    for module, function in public_kernel_functions():
        told = ast.get_docstring(function) or ""
        arguments = [*function.args.args, *function.args.kwonlyargs, *function.args.posonlyargs]
        sections = ["Parameters\n----------"] if arguments else []
        if function.returns is None or ast.unparse(function.returns) != "None":
            sections.append("Returns\n-------")
        untold += [
            f"{module.name}:{function.lineno} {function.name}: {section.partition(chr(10))[0]}"
            for section in sections
            if section not in told
        ]
        untold += [
            f"{module.name}:{function.lineno} {function.name}: {argument.arg}"
            for argument in arguments
            if not re.search(rf"^{LISTED}\b{argument.arg}\b", told, re.MULTILINE)
        ]
    assert untold == []


def test_every_kernel_result_is_frozen() -> None:
    soft = [
        f"{module.name}:{node.lineno} {node.name}"
        for module in modules()
        if module.is_kernel
        for node in ast.walk(module.tree)
        if isinstance(node, ast.ClassDef)
        for decorator in node.decorator_list
        if "dataclass" in ast.unparse(decorator) and "frozen=True" not in ast.unparse(decorator)
    ]
    assert soft == []


def our_models() -> list:  # type: ignore[type-arg]
    """Every model of the three apps."""
    return [model for label in APPS for model in apps.get_app_config(label).get_models()]


def test_every_column_that_a_form_may_show_has_a_translated_name() -> None:
    # Derived rows are read through tables and templates, which word their own headings.
    untranslated = [
        f"{model.__name__}.{field.name}"
        for model in our_models()
        if model._meta.app_label != "analytics"
        for field in model._meta.local_fields
        if isinstance(field, Field)
        and not field.primary_key
        and field.model is model
        and not isinstance(field.verbose_name, Promise)
    ]
    assert untranslated == []


# Public functions that the program itself never calls, and why they stay.
CALLED_BY_TESTS_ALONE = {
    "inspections/tracing/validation.py validate_tree": "checks the tree, which is data",
    "inspections/tracing/as_json.py position_as_json": "what the phone's engine is held against",
    **dict.fromkeys(
        [
            f"inspections/electrical.py {name}"
            for name in (
                "judge_drop", "input_amps", "operating_point", "classify_converter",
                "battery_at_rest", "battery_charging", "charge_quarters",
            )
        ],
        "the trade's arithmetic, held against printed tables; limits.py says the same by model",
    ),
}  # fmt: skip


DOTTED = re.compile(r"[\w.:]+")


def names_used() -> set[str]:
    """Every name that the program reads, or spells in a string, as in a setting or a route."""
    found: set[str] = set()
    for module in modules():
        for node in ast.walk(module.tree):
            if isinstance(node, ast.Name | ast.Attribute):
                found.add(node.id if isinstance(node, ast.Name) else node.attr)
            elif isinstance(node, ast.Constant) and isinstance(node.value, str):
                # A dotted name or a URL's; prose that mentions a function does not call it.
                found.update(re.split("[.:]", node.value) if DOTTED.fullmatch(node.value) else ())
    return found


def test_no_public_function_is_called_by_tests_alone() -> None:
    used = names_used()
    unused = {
        f"{module.name} {node.name}"
        for module in modules()
        if not module.name.startswith("fleetdoors/")
        for node in module.tree.body
        if isinstance(node, ast.FunctionDef)
        and not node.name.startswith("_")
        and not node.decorator_list
        and node.name not in used
    }
    assert unused == set(CALLED_BY_TESTS_ALONE)
