"""Where a part could go: every place that its bolts allow, judged by what the check and the figures say."""
