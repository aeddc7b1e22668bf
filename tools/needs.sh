# Read by tools/run and tools/test (POSIX sh): looks for what building needs, and installs it with the
# system's package manager where that takes no password; otherwise says the exact command and stops.
# Expects $top, the folder of the project.

oldest_rust=1.89 # as rust-version in Cargo.toml

has() { command -v "$1" >/dev/null 2>&1; }

say() { printf '%s\n' "$*" >&2; }

stop() {
  say "$@"
  exit 3
}

# The command that installs packages here: install_command DEBIAN FEDORA ARCH, each a list of packages.
install_command() {
  if has apt-get; then echo "apt-get install -y $1"
  elif has dnf; then echo "dnf install -y $2"
  elif has pacman; then echo "pacman -S --needed --noconfirm $3"
  else return 1
  fi
}

# need WHAT DEBIAN FEDORA ARCH: installs it, or says how. Fails if it could not.
install_or_say() {
  what=$1
  shift
  if ! command=$(install_command "$@"); then
    say "restward needs $what. Install it with your system's package manager (on Debian: $1) and start again."
    return 1
  fi
  if [ "$(id -u)" = 0 ]; then as_root=
  elif has sudo && sudo -n true 2>/dev/null; then as_root='sudo -n env'
  else
    say "restward needs $what. Type this, then start again:"
    say "    sudo $command"
    return 1
  fi
  say "Installing $what: $command"
  # A fresh machine has no list of packages yet.
  if has apt-get; then $as_root apt-get update -qq >&2 || true; fi
  # shellcheck disable=SC2086 # both are lists of words
  if [ -n "$as_root" ]; then
    $as_root DEBIAN_FRONTEND=noninteractive $command >&2
  else
    DEBIAN_FRONTEND=noninteractive $command >&2
  fi
}

# Whether VERSION is at least LEAST, as two numbers with a point.
at_least() {
  awk -v version="$1" -v least="$2" 'BEGIN {
    split(version, v, "."); split(least, l, ".")
    exit !(v[1] > l[1] || (v[1] == l[1] && v[2] >= l[2]))
  }'
}

need_rust() {
  if ! has cargo && [ -x "${CARGO_HOME:-$HOME/.cargo}/bin/cargo" ]; then
    PATH=${CARGO_HOME:-$HOME/.cargo}/bin:$PATH
    export PATH
  fi
  has cargo || stop "restward is built with Rust $oldest_rust or newer. Install it as https://rustup.rs says, then start again."
  rust=$(cargo --version | awk '{ print $2 }')
  at_least "$rust" "$oldest_rust" ||
    stop "restward is built with Rust $oldest_rust or newer, and this is Rust $rust. Type 'rustup update', then start again."
}

# C for SQLite and the sound libraries, ALSA headers for MIDI and sound on Linux.
need_build() {
  need_rust
  case $(uname -s) in
    Darwin)
      xcode-select -p >/dev/null 2>&1 ||
        stop "restward needs Apple's command line tools. Type 'xcode-select --install', then start again."
      ;;
    Linux)
      { has cc && has pkg-config && pkg-config --exists alsa; } ||
        install_or_say "a C compiler, pkg-config and the ALSA headers" \
          "gcc libc6-dev pkg-config libasound2-dev" \
          "gcc pkgconf-pkg-config alsa-lib-devel" \
          "base-devel pkgconf alsa-lib" ||
        exit 3
      ;;
  esac
}

# C++ for the engraver alone.
need_cxx() {
  has c++ || install_or_say "a C++ compiler" "g++" "gcc-c++" "gcc"
}

# Any font for the words of a PDF; other systems come with some.
need_fonts() {
  [ "$(uname -s)" != Linux ] || [ -n "$(find /usr/share/fonts -name '*.ttf' -o -name '*.otf' 2>/dev/null | head -1)" ] ||
    install_or_say "a font" "fonts-dejavu-core" "dejavu-serif-fonts" "ttf-dejavu"
}
