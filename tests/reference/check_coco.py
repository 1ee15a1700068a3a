#!/usr/bin/env python3
"""Loads the COCO lists of a labelled set with pycocotools and compares every mask that
it draws with the set's own per-pixel index.

    cargo run --release -- frames scenes/foyer_morning.ron --scans 20 --turned-share 0.4 \\
        --vary lamps.upper.flux_lm=100..400 --out set
    pip install pycocotools==2.0.11 pillow numpy
    python tests/reference/check_coco.py set
"""
import json, sys
import numpy as np
from PIL import Image
from pycocotools.coco import COCO

masks = pixels = 0
for half in ("train", "validation"):
    coco = COCO(f"{sys.argv[1]}/coco-{half}.json")
    names = {c["id"]: c["name"] for c in coco.loadCats(coco.getCatIds())}
    for image in coco.loadImgs(coco.getImgIds()):
        index = np.array(Image.open(f"{sys.argv[1]}/{image['file_name'][:-4]}-index.png"))
        picture = Image.open(f"{sys.argv[1]}/{image['file_name']}")
        assert picture.size == (image["width"], image["height"]) and picture.mode == "RGB"
        left = {code for code in np.unique(index) if code < 54}
        for annotation in coco.loadAnns(coco.getAnnIds(imgIds=image["id"])):
            code = annotation["id"] % 100
            mask = coco.annToMask(annotation).astype(bool)
            truth = index == code
            wrong = np.count_nonzero(mask != truth)
            assert wrong == 0, (image["file_name"], annotation["facelet"], wrong)
            assert annotation["area"] == np.count_nonzero(truth)
            rows, columns = np.nonzero(truth)
            box = [columns.min(), rows.min(), np.ptp(columns) + 1, np.ptp(rows) + 1]
            assert annotation["bbox"] == box and annotation["category_id"] in names
            left.remove(code)
            masks, pixels = masks + 1, pixels + np.count_nonzero(truth)
        assert not left, (image["file_name"], left)
print(json.dumps({"masks": masks, "pixels": int(pixels), "wrong_pixels": 0}))
