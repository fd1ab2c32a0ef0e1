"""Hold result files against the schemas of their format and version."""

import json
import pathlib
import sys

import jsonschema


def fail_on_constant(word):
    raise ValueError(f"{word} is not JSON")


def main(schemas, results):
    files = sorted(pathlib.Path(results).glob("*.json"))
    if not files:
        sys.exit("no results to check")
    failed = 0
    for file in files:
        value = json.loads(file.read_text(encoding="utf-8"), parse_constant=fail_on_constant)
        name = f"{value['format']}-{value['version']}.schema.json"
        schema = json.loads((pathlib.Path(schemas) / name).read_text(encoding="utf-8"))
        validator = jsonschema.validators.validator_for(schema)
        validator.check_schema(schema)
        errors = list(validator(schema).iter_errors(value))
        # A schema that accepts anything shows nothing: it must refuse a spoilt result.
        spoilt = {key: item for key, item in value.items() if key != "format"}
        if not list(validator(schema).iter_errors(spoilt)):
            errors.append(f"{name} accepts a result that does not name its format")
        for error in errors:
            print(f"{file.name}: {getattr(error, 'message', error)}", file=sys.stderr)
        failed += bool(errors)
        print(f"{file.name}: {'FAILED' if errors else 'ok'} against {name}")
    print(f"{len(files) - failed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
