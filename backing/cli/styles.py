"""`backing styles`: the accompaniment styles, one a line."""

from backing.files import load_style, style_names


def styles() -> None:
    """List the accompaniment styles: name, title, when to use it.

    A style's variants are named after it, as in alternating:fifths.
    """
    names = style_names()
    width = max(len(name) for name in names)
    for name in names:
        style = load_style(name)
        variants = "".join(f" Also {name}:{variant}." for variant, _ in style.variants)
        print(f"{name:<{width}}  {style.title}. {style.use}{variants}")
