"""What a disk would hold after a power cut, worked out from the calls that a step made.

Content is there once its file was synced, a name once its folder was. Of what was not synced yet
a file system may keep anything; two of the worst cases are looked at: nothing of it is there, and
all names are there but no content (as where a rename overtakes what was written before it).
"""

import os
import posixpath
import shutil

NOTHING, NAMES = "nothing that was not synced", "all names, and no content that was not synced"


class Disk:
    """Files by a number, names that lead to them; and of both what is safe already."""

    def __init__(self, folder):
        self.content, self.safe, self.names, self.folders = [], [], {}, set()
        self.times = {}  # when a file that was there before was changed: batches look at that
        for path in sorted(folder.rglob("*")):
            name = str(path.relative_to(folder))
            if path.is_dir():
                self.folders.add(name)
            elif not name.endswith("-shm"):
                self.names[name] = self._new(path.read_bytes())
                self.times[self.names[name]] = path.stat().st_mtime_ns
        self.safe_names, self.safe_folders = dict(self.names), set(self.folders)

    def _new(self, content=b""):
        self.content.append(content)
        self.safe.append(content)
        return len(self.content) - 1

    def make(self, call):
        """Do what a call did."""
        if call.path.endswith("-shm") or call.what == "chmod":
            return
        getattr(self, f"_{call.what}")(call)

    def _open(self, call):
        if call.path not in self.names:
            self.names[call.path] = self._new()

    def _write(self, call):
        number = self.names.get(call.path)
        if number is not None:
            held = self.content[number].ljust(call.at, b"\0")
            self.content[number] = held[: call.at] + call.data + held[call.at + len(call.data) :]

    def _resize(self, call):
        number = self.names.get(call.path)
        if number is not None:
            self.content[number] = self.content[number][: call.at].ljust(call.at, b"\0")

    def _sync(self, call):
        if call.path in self.names:
            number = self.names[call.path]
            self.safe[number] = self.content[number]
            return
        for now, safe in ((self.names, self.safe_names), (self.folders, self.safe_folders)):
            inside = {
                name for name in {*now, *safe} if (posixpath.dirname(name) or ".") == call.path
            }
            for name in inside:
                if name not in now:
                    safe.pop(name) if safe is self.safe_names else safe.discard(name)
                elif safe is self.safe_names:
                    safe[name] = now[name]
                else:
                    safe.add(name)

    def _rename(self, call):
        self.names[call.to] = self.names.pop(call.path)

    def _link(self, call):
        self.names.setdefault(call.to, self.names[call.path])

    def _remove(self, call):
        self.names.pop(call.path, None)
        self.folders.discard(call.path)

    def _folder(self, call):
        self.folders.add(call.path)

    def write_to(self, folder, kept):
        """Lay out in *folder* what a power cut leaves."""
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir()
        names = self.names if kept == NAMES else self.safe_names
        for name in self.folders if kept == NAMES else self.safe_folders:
            (folder / name).mkdir(mode=0o700, parents=True, exist_ok=True)
        for name, number in names.items():
            path = folder / name
            if path.parent.is_dir():  # else the folder itself was never safe
                path.write_bytes(self.safe[number])
                if number in self.times:
                    os.utime(path, ns=(self.times[number],) * 2)
                path.chmod(0o600 if name.endswith(".key") else 0o644)
        return folder
