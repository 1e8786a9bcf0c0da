"""What holds for every test: drawn examples are not timed, since a busy machine is no fault."""

from hypothesis import settings

settings.register_profile("claywit", deadline=None)
settings.load_profile("claywit")
