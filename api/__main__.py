from api.cli import main

main()
