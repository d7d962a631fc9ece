"""Homographies by OpenCV, for the tests: cases as JSON in, the same with their matrices out. Ends with 3 without OpenCV."""

import json
import sys

try:
    import cv2
    import numpy
except ImportError:
    sys.exit(3)

cases = json.load(sys.stdin)
for case in cases:
    matrix, _ = cv2.findHomography(numpy.array(case["from"]), numpy.array(case["to"]), 0)
    case["matrix"] = matrix.tolist()
json.dump(cases, sys.stdout)
