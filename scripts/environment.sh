# Sourced by the other scripts: finds the project, and makes its virtual environment when it is missing or out of date.
# shellcheck shell=bash

project=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
venv=${DIGITIZE_VENV:-$project/.venv}
python=$venv/bin/python

say() { printf '%s\n' "$*" >&2; }

# need_debian PACKAGE=PROGRAM_OR_FILE ...: install what is missing as root, else say what is missing and stop. A file may be
# a pattern, since libraries lie in a folder named after the machine.
need_debian() {
  local missing=() pair
  for pair in "$@"; do
    local package=${pair%%=*} thing=${pair#*=}
    if [ "${thing#/}" != "$thing" ]; then compgen -G "$thing" >/dev/null || missing+=("$package")
    else command -v "$thing" >/dev/null 2>&1 || missing+=("$package"); fi
  done
  [ ${#missing[@]} -eq 0 ] && return 0
  if [ "$(id -u)" -ne 0 ] || ! command -v apt-get >/dev/null; then
    say "Missing on this machine: ${missing[*]}"
    say "Install them as root: apt-get install ${missing[*]}"
    exit 8
  fi
  say "Installing Debian packages: ${missing[*]}"
  export DEBIAN_FRONTEND=noninteractive
  apt-get update -qq
  apt-get install -y -qq --no-install-recommends "${missing[@]}" >/dev/null
}

# need_python_venv: Python's own venv module, which Debian keeps in a package of its own.
need_python_venv() {
  "${DIGITIZE_PYTHON:-python3}" -c 'import ensurepip, venv' 2>/dev/null || need_debian python3=python3 python3-venv=/nonexistent
}

# fill_venv GROUP ...: the project itself and the named dependency groups of pyproject.toml, in .venv. What is already
# there for this very pyproject.toml is not installed again.
fill_venv() {
  local state stamp=$venv/.filled group missing=()
  state=$(cksum <"$project/pyproject.toml")
  for group in project "$@"; do
    grep -qxF "$group $state" "$stamp" 2>/dev/null || missing+=("$group")
  done
  [ -x "$python" ] && [ ${#missing[@]} -eq 0 ] && return 0
  if [ ! -x "$python" ]; then
    local base=${DIGITIZE_PYTHON:-python3}
    if ! "$base" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
      say "Python 3.11 or newer is needed; '$base' is older or missing."
      say "Install it, or name one: DIGITIZE_PYTHON=/path/to/python3.11"
      exit 8
    fi
    "$base" -m venv "$venv"
    missing=(project "$@")
  fi
  say "Filling $venv: ${missing[*]} (a few minutes the first time)"
  "$python" -m pip install -q --disable-pip-version-check --root-user-action=ignore --upgrade 'pip>=25.1'
  local wanted=()
  for group in "${missing[@]}"; do
    if [ "$group" = project ]; then wanted+=(-e "$project"); else wanted+=(--group "$project/pyproject.toml:$group"); fi
  done
  "$python" -m pip install -q --disable-pip-version-check --root-user-action=ignore "${wanted[@]}"
  for group in "${missing[@]}"; do printf '%s\n' "$group $state"; done >>"$stamp"
}

# have_venv: the environment as it is, or the project alone in a new one. A check of imports finds a half-filled one.
have_venv() {
  [ -x "$python" ] && "$python" -c 'import digitize, cv2, scipy, pydantic, shapely, networkx' 2>/dev/null && return 0
  fill_venv
}

# have_review_page: the desk's page, built when it is missing or older than its sources.
have_review_page() {
  local built=$project/digitize/_review_static/index.html
  [ -e "$built" ] && [ -z "$(find "$project/review_ui/page" "$project/review_ui/package-lock.json" -newer "$built" -print -quit)" ] && return 0
  "$project/scripts/build_review"
}
