"""Pages of HTML: one file each that needs no network, with its pictures, styles and script inside."""
