"""droptrail: from a frame builder's drawing and fit sheet to numbers that can be trusted.

The folders beside this file are the package's rooms: ``droptrail.model``, ``droptrail.converters``,
``droptrail.validation`` and ``droptrail.cli``. Arrows point down only: cli -> validation -> converters -> model.
"""
