"""The workbench: ``state`` without Qt, ``views`` that show and report, one ``wiring`` of both."""
