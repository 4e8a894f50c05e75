"""The faces for programs and people: the ``leatline`` command and the HTTP service.

Both convert what they are given, call ``routing``, and convert what comes back; neither computes.
"""
