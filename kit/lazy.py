"""Words that are loaded when first used, so that a package costs what is used of it."""

import importlib


def offer(package, namespace, modules):
    """Return (__getattr__, __dir__, __all__) of a package whose words lie in modules not yet loaded.

    modules {module: "words in it"}; a module named like its own word is that word. Raises AttributeError.

    >>> get, _, words = offer("kit", {}, {"kit.words": "figure"})
    >>> words, get("figure")(1.25, 2)
    (['figure'], '1.25')
    """
    where = {word: module for module, words in modules.items() for word in words.split()}

    def get(name):
        if name not in where:
            raise AttributeError(f"module '{package}' has no attribute {name!r}; it offers {', '.join(sorted(where))}")
        module = importlib.import_module(where[name])
        namespace[name] = module if where[name] == f"{package}.{name}" else getattr(module, name)
        return namespace[name]

    return get, lambda: sorted({*namespace, *where}), list(where)
