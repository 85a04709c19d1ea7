"""Every reason and notice: the words in `code`, their texts by what they are about."""

from viscount.codes.code import Code

__all__ = ["Code"]
