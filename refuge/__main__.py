import sys

from refuge.cli import main

sys.exit(main())
