# What `.ci/run` and `.ci/long` share. Sourced by both, with the clone's top as the folder.

top=$PWD
# The clones look for real clips where this folder would.
export VISCOUNT_FOOTAGE=${VISCOUNT_FOOTAGE:-$(dirname "$top")/shared/footage}
stage_now=start

stage() { # stage NAME COMMAND...: run it, and say how many seconds it took
    stage_now=$1
    local began=$SECONDS
    shift
    printf '\n== %s\n' "$stage_now"
    "$@"
    printf '== %s: %d s\n' "$stage_now" "$((SECONDS - began))"
}

make_scratch() { # a folder inside the clone, gone when the script ends
    mkdir -p .cache
    scratch=$(mktemp -d "$top/.cache/ci.XXXXXX")
    trap 'failed $?' EXIT
}

failed() {
    rm -rf "$scratch"
    if [ "$1" -ne 0 ]; then
        printf '\nFAILED in: %s\n' "$stage_now" >&2
    fi
}

need_python_and_git() { # on Debian, root may have them installed
    if ! command -v git >/dev/null || ! python3 -c 'import ensurepip, venv' 2>/dev/null; then
        if [ "$(id -u)" -eq 0 ] && command -v apt-get >/dev/null; then
            apt-get update -q && apt-get install -qy git python3 python3-venv
        else
            echo 'git and Python 3.11 or newer with its venv module are needed' >&2
            return 1
        fi
    fi
    python3 -c 'import sys; sys.exit(sys.version_info < (3, 11))' || {
        echo "Python 3.11 or newer is needed; found $(python3 --version)" >&2
        return 1
    }
    git --version
    python3 --version
}

fresh_clone() { # fresh_clone FOLDER: HEAD, with the working tree's own changes on top
    git clone --quiet "$top" "$1"
    if [ -n "$(git -C "$top" status --porcelain)" ]; then
        echo 'the working tree differs from HEAD: its changes are tested too'
        git -C "$top" diff --binary HEAD >"$scratch/changes.diff"
        if [ -s "$scratch/changes.diff" ]; then
            git -C "$1" apply "$scratch/changes.diff"
        fi
        (cd "$top" && git ls-files -z --others --exclude-standard | xargs -0r cp --parents -t "$1")
        git -C "$1" add --all
    fi
}

readme_line() { # readme_line NAME: the one line that stands below <!-- line: NAME -->
    local found
    found=$(sed -n "/^<!-- line: $1 -->\$/,/^\`\`\`\$/p" "$top/README.md" | grep -v -e '^<!--' -e '^```')
    if [ "$(grep -c . <<<"$found")" -ne 1 ]; then
        echo "README.md has not exactly one line below <!-- line: $1 -->" >&2
        return 1
    fi
    printf '%s\n' "$found"
}

run_readme_line() { # run_readme_line NAME FOLDER: as printed, by a shell that knows nothing
    local line
    line=$(readme_line "$1")
    printf '$ %s\n' "$line"
    (cd "$2" && env -u VIRTUAL_ENV -u PYTHONPATH -u PYTHONHOME PIP_QUIET=1 bash -c "$line")
}

sum_tests() { # sum_tests FILE...: what these junit files hold; fails if no test ran, or one failed
    python3 - "$@" <<'PYTHON'
import sys
import xml.etree.ElementTree as ElementTree

suites = [s for f in sys.argv[1:] for s in ElementTree.parse(f).getroot().iter("testsuite")]
total, skipped, failed = (
    sum(int(suite.get(key, 0)) for suite in suites for key in keys)
    for keys in (["tests"], ["skipped"], ["failures", "errors"])
)
passed = total - skipped - failed
print(f"{passed} passed, {failed} failed, {skipped} skipped")
if passed == 0:
    sys.exit("no test ran")
sys.exit(failed > 0)
PYTHON
}
