"""Plain data with one value replaced: files that somebody wrote nearly right."""


def places(data, at=()):
    """Return the place of every value below *data*."""
    steps = (
        data.items()
        if isinstance(data, dict)
        else enumerate(data)
        if isinstance(data, list)
        else ()
    )
    return [at] * bool(at) + [p for step, below in steps for p in places(below, (*at, step))]


def replaced(data, at, value):
    if not at:
        return value
    copy = dict(data) if isinstance(data, dict) else list(data)
    copy[at[0]] = replaced(data[at[0]], at[1:], value)
    return copy
